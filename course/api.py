"""The teaching over HTTP: exercises, hand-ins, the review list, crits."""

from django.db import transaction
from django.db.models import Prefetch
from django.shortcuts import get_object_or_404
from drf_spectacular.utils import OpenApiResponse, extend_schema
from rest_framework import serializers, status
from rest_framework.generics import ListAPIView
from rest_framework.response import Response
from rest_framework.views import APIView

from course.models import Crit, Criterion, Exercise, Group, HandIn
from course.models.crit import OldPage
from shootlog.api import NO_TOKEN, NOT_YOURS, TroubleSerializer
from shootlog.models import Frame, Series


class CriterionSerializer(serializers.ModelSerializer):
    class Meta:
        model = Criterion
        fields = ["id", "kind", "quantity", "low", "high", "need", "words"]


class ExerciseSerializer(serializers.ModelSerializer):
    criteria = CriterionSerializer(many=True, read_only=True)
    week = serializers.IntegerField(source="week.number", read_only=True)
    course = serializers.IntegerField(source="week.course_id", read_only=True)

    class Meta:
        model = Exercise
        fields = [
            "id",
            "course",
            "week",
            "kind",
            "title",
            "text",
            "subject_width_mm",
            "subject_depth_mm",
            "finished_width_mm",
            "criteria",
        ]


class ExercisesView(ListAPIView):
    serializer_class = ExerciseSerializer
    queryset = Exercise.objects.none()  # for the description; what is seen follows from the asker

    @extend_schema(responses={200: ExerciseSerializer(many=True), 401: NO_TOKEN, 404: NOT_YOURS})
    def get(self, request, *args, **kwargs):
        return super().get(request, *args, **kwargs)

    def get_queryset(self):
        return (
            Exercise.objects.visible_to(self.request.user)
            .select_related("week")
            .prefetch_related("criteria")
            .order_by("week__course_id", "week__number", "position", "pk")
        )


class VerdictSerializer(serializers.Serializer):
    criterion = serializers.CharField()
    verdict = serializers.ChoiceField(["met", "not yet", "can't tell"])
    why = serializers.CharField()


class HandInSerializer(serializers.ModelSerializer):
    verdicts = VerdictSerializer(many=True, allow_null=True)
    frames = serializers.PrimaryKeyRelatedField(many=True, read_only=True)  # type: ignore[var-annotated]

    class Meta:
        model = HandIn
        fields = [
            "id",
            "exercise",
            "frames",
            "series",
            "wanted",
            "unsure",
            "handed_in_at",
            "state",
            "verdicts",
        ]


class NewHandInSerializer(serializers.Serializer):
    exercise = serializers.IntegerField(min_value=1)
    frames = serializers.ListField(
        child=serializers.IntegerField(min_value=1), required=False, max_length=400
    )
    series = serializers.IntegerField(min_value=1, required=False)
    wanted = serializers.CharField(required=False, allow_blank=True, max_length=300)
    unsure = serializers.CharField(required=False, allow_blank=True, max_length=300)

    def validate(self, values):
        if not values.get("frames") and not values.get("series"):
            raise serializers.ValidationError("Give frames or a series to hand in.")
        return values


class HandInsView(APIView):
    @extend_schema(
        request=NewHandInSerializer,
        responses={
            200: OpenApiResponse(HandInSerializer, "It stood already; what is told now stands."),
            201: HandInSerializer,
            400: OpenApiResponse(TroubleSerializer, "What is missing."),
            401: NO_TOKEN,
            404: NOT_YOURS,
        },
    )
    def post(self, request):
        sent = NewHandInSerializer(data=request.data)
        sent.is_valid(raise_exception=True)
        values = sent.validated_data
        exercise = get_object_or_404(Exercise.objects.taken_by(request.user), pk=values["exercise"])
        said = {key: values[key] for key in ("wanted", "unsure") if key in values}
        if "series" in values:
            mine = Series.objects.owned_by(request.user)
            said["series"] = get_object_or_404(mine, pk=values["series"])
        wanted_ids = list(dict.fromkeys(values.get("frames") or []))
        owned = Frame.objects.owned_by(request.user).in_bulk(wanted_ids)
        if len(owned) != len(wanted_ids):
            return Response({"detail": "A frame is not there, or not yours."}, 404)
        frames = [owned[pk] for pk in wanted_ids]
        before = HandIn.objects.same_again(exercise=exercise, student=request.user, frames=frames)
        if before and before.say_again(**said):
            return Response(HandInSerializer(before).data)
        hand_in = HandIn.objects.hand_in(
            student=request.user,
            exercise=exercise,
            group=Group.objects.that_gets(exercise, request.user),
            frames=frames,
            **said,
        )
        return Response(HandInSerializer(hand_in).data, status.HTTP_201_CREATED)


class ToLookAtSerializer(HandInSerializer):
    reason = serializers.CharField()
    student = serializers.CharField(source="student.person.display_name")

    class Meta(HandInSerializer.Meta):
        fields = [*HandInSerializer.Meta.fields, "student", "reason"]


class ReviewView(ListAPIView):
    serializer_class = ToLookAtSerializer
    queryset = HandIn.objects.none()

    @extend_schema(responses={200: ToLookAtSerializer(many=True), 401: NO_TOKEN, 404: NOT_YOURS})
    def get(self, request, *args, **kwargs):
        return super().get(request, *args, **kwargs)

    def get_queryset(self):
        HandIn.objects.reviewable_by(self.request.user).waiting().judge()
        numbers = Prefetch("frames", Frame.objects.only("pk"))
        return HandIn.objects.to_look_at(self.request.user).for_table().prefetch_related(numbers)


class CritSerializer(serializers.ModelSerializer):
    class Meta:
        model = Crit
        fields = [
            "id",
            "hand_in",
            "words",
            "one_thing",
            "decision",
            "marks",
            "revision",
            "released_at",
        ]


class NewCritSerializer(serializers.Serializer):
    hand_in = serializers.IntegerField(min_value=1)
    words = serializers.CharField(required=False, allow_blank=True, max_length=20_000)
    one_thing = serializers.CharField(required=False, allow_blank=True, max_length=300)
    decision = serializers.ChoiceField(["kept", "reshoot asked", "talked through"], required=False)
    release = serializers.BooleanField(default=False)

    def validate(self, values):
        if values.get("decision") == "reshoot asked" and not values.get("one_thing", "").strip():
            raise serializers.ValidationError("A reshoot needs one thing to change: one_thing.")
        return values


class CritsView(APIView):
    @extend_schema(
        request=NewCritSerializer,
        responses={
            201: CritSerializer,
            400: OpenApiResponse(TroubleSerializer, "What is missing."),
            401: NO_TOKEN,
            404: NOT_YOURS,
            409: OpenApiResponse(TroubleSerializer, "Another page saved in between."),
        },
    )
    @transaction.atomic
    def post(self, request):
        """Words, decision and release: all of it or nothing."""
        sent = NewCritSerializer(data=request.data)
        sent.is_valid(raise_exception=True)
        values = sent.validated_data
        hand_in = get_object_or_404(
            HandIn.objects.reviewable_by(request.user), pk=values["hand_in"]
        )
        crit = hand_in.crit_by(request.user)
        said = {key: values[key] for key in ("words", "one_thing") if key in values}
        try:
            crit.save_said(revision=crit.revision, **said)
        except OldPage as old:
            return Response({"detail": str(old)}, status.HTTP_409_CONFLICT)
        decide = {
            "kept": hand_in.keep,
            "talked through": hand_in.talk_through,
            "reshoot asked": lambda by: hand_in.ask_reshoot(by=by, one_thing=values["one_thing"]),
        }.get(values.get("decision"))
        if decide:
            decide(by=request.user)
        if values["release"]:
            hand_in.release(by=request.user)
        return Response(CritSerializer(hand_in.crit_by(request.user)).data, status.HTTP_201_CREATED)
