"""Planning, mounted at /plan/. The first page of it is the course's, which adds the field card."""

from django.urls import path

from shootlog.views import planner, stack_plan

app_name = "planning"

urlpatterns = [
    path("what-if/", planner.what_if_page, name="what-if"),
    path("ladder/", planner.ladder_page, name="ladder"),
    path("stack/", stack_plan.stack, name="stack"),
    path("landscape/", stack_plan.landscape, name="landscape"),
    # what is in the bag: /plan/kit/...
    path("kit/", planner.kit, name="kit"),
    path("kit/add/<str:kind>/", planner.add, name="add-to-kit"),
    path("kit/from-set-ups/", planner.from_set_ups, name="from-set-ups"),
    path("kit/<int:pk>/remove/", planner.remove, name="remove-from-kit"),
    # plans that were kept: /plan/kept/<pk>/...
    path("kept/", stack_plan.kept_plans, name="kept-plans"),
    path("kept/<int:pk>/", stack_plan.kept, name="kept"),
    path("kept/<int:pk>/beside/", stack_plan.beside, name="beside"),
    path("kept/<int:pk>/forget/", stack_plan.forget, name="forget-plan"),
]
