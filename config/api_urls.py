"""The HTTP interface, described at /api/schema/."""

from django.urls import path
from drf_spectacular.views import SpectacularAPIView

from course import api as course_api
from shootlog import api as log_api

urlpatterns = [
    path("schema/", SpectacularAPIView.as_view(), name="api-schema"),
    path("frames/", log_api.FramesView.as_view(), name="api-frames"),
    path("frames/<int:pk>/", log_api.FrameView.as_view(), name="api-frame"),
    path("series/<int:pk>/", log_api.SeriesView.as_view(), name="api-one-series"),
    path("exercises/", course_api.ExercisesView.as_view(), name="api-exercises"),
    path("hand-ins/", course_api.HandInsView.as_view(), name="api-hand-ins"),
    path("review/", course_api.ReviewView.as_view(), name="api-review"),
    path("crits/", course_api.CritsView.as_view(), name="api-crits"),
]
