"""The log over HTTP: frames in, readings out. Described at /api/schema/."""

from django.shortcuts import get_object_or_404
from drf_spectacular.utils import OpenApiResponse, extend_schema, extend_schema_field
from rest_framework import serializers, status
from rest_framework.parsers import MultiPartParser
from rest_framework.response import Response
from rest_framework.views import APIView

from shootlog.intake.receive import Refused, receive
from shootlog.jobs import judged
from shootlog.models import Frame, KeptSetUp, Series


class TroubleSerializer(serializers.Serializer):
    detail = serializers.CharField()


NOT_YOURS = OpenApiResponse(TroubleSerializer, "Not there, or not yours.")
NO_TOKEN = OpenApiResponse(TroubleSerializer, "No token, or one that opens nothing.")


class ReceivedSerializer(serializers.ModelSerializer):
    class Meta:
        model = Frame
        fields = ["id", "sha256", "state"]


class SentSerializer(serializers.Serializer):
    file = serializers.FileField()
    set_up = serializers.IntegerField(required=False, min_value=1)
    note = serializers.CharField(required=False, allow_blank=True, max_length=2000)


class CropSerializer(serializers.Serializer):
    """A rectangle in pixels of the picture as shown, and what is seen in it."""

    x = serializers.IntegerField()
    y = serializers.IntegerField()
    w = serializers.IntegerField()
    h = serializers.IntegerField()
    words = serializers.CharField()


class ProofSerializer(serializers.Serializer):
    here = CropSerializer()
    good = CropSerializer(allow_null=True)


class OutcomeSerializer(serializers.Serializer):
    finding = serializers.CharField()
    answer = serializers.ChoiceField(["yes", "no", "cannot tell"])
    sure = serializers.CharField()
    numbers = serializers.DictField()
    words = serializers.CharField()
    remedy = serializers.CharField()
    proof = ProofSerializer(allow_null=True, help_text="Where a yes can be seen.")


class FrameSerializer(serializers.ModelSerializer):
    recorded = serializers.DictField(allow_null=True)
    reading = serializers.DictField(allow_null=True)
    findings = serializers.SerializerMethodField()

    class Meta:
        model = Frame
        fields = [
            "id",
            "sha256",
            "state",
            "trouble",
            "sent_name",
            "received_at",
            "taken_at",
            "caption",
            "recorded",
            "reading",
            "findings",
        ]

    @extend_schema_field(OutcomeSerializer(many=True))
    def get_findings(self, frame):
        """Recomputed from what is stored: flags are an index, not the truth."""
        _, outcomes = judged(frame)
        return [outcome.as_json() for outcome in outcomes]


class FramesView(APIView):
    parser_classes = [MultiPartParser]

    @extend_schema(
        request={"multipart/form-data": SentSerializer},
        responses={
            201: ReceivedSerializer,
            200: OpenApiResponse(ReceivedSerializer, "The same bytes were here already."),
            400: OpenApiResponse(TroubleSerializer, "The file was refused; why, and the way out."),
            413: OpenApiResponse(TroubleSerializer, "The file is larger than this log takes."),
            415: OpenApiResponse(TroubleSerializer, "Not a picture file this log can read."),
            503: OpenApiResponse(TroubleSerializer, "The scanner of this house does not answer."),
            507: OpenApiResponse(TroubleSerializer, "The disk of this log is full."),
            401: NO_TOKEN,
            404: NOT_YOURS,
        },
    )
    def post(self, request):
        sent = SentSerializer(data=request.data)
        sent.is_valid(raise_exception=True)
        set_up = None
        if "set_up" in sent.validated_data:
            set_up = get_object_or_404(
                KeptSetUp.objects.owned_by(request.user), pk=sent.validated_data["set_up"]
            )
        file = sent.validated_data["file"]
        try:
            frame, created = receive(
                file,
                owner=request.user,
                name=file.name or "",
                set_up=set_up,
                note=sent.validated_data.get("note", ""),
            )
        except Refused as refused:
            return Response({"detail": str(refused)}, refused.status)
        return Response(
            ReceivedSerializer(frame).data,
            status.HTTP_201_CREATED if created else status.HTTP_200_OK,
        )


class FrameView(APIView):
    @extend_schema(responses={200: FrameSerializer, 401: NO_TOKEN, 404: NOT_YOURS})
    def get(self, request, pk):
        frame = get_object_or_404(Frame.objects.owned_by(request.user), pk=pk)
        return Response(FrameSerializer(frame).data)


class SeriesSerializer(serializers.ModelSerializer):
    frames = serializers.SerializerMethodField()
    check = serializers.DictField(source="check_result", allow_null=True)

    class Meta:
        model = Series
        fields = ["id", "kind", "name", "state", "trouble", "confirmed", "frames", "check"]

    @extend_schema_field(serializers.ListField(child=serializers.IntegerField()))
    def get_frames(self, series):
        return [place.frame_id for place in series.places.all()]


class SeriesView(APIView):
    @extend_schema(responses={200: SeriesSerializer, 401: NO_TOKEN, 404: NOT_YOURS})
    def get(self, request, pk):
        """What `manage.py series` says of the frames, as it was last worked out."""
        owned = Series.objects.owned_by(request.user).prefetch_related("places")
        return Response(SeriesSerializer(get_object_or_404(owned, pk=pk)).data)
