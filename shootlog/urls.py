"""The log's map, mounted at /log/."""

from django.urls import path

from shootlog.views import (
    cameras,
    frame,
    log,
    own_past,
    pictures,
    series,
    set_ups,
    uploads,
    who_sees,
)

app_name = "shootlog"

urlpatterns = [
    # the contact sheet: /log/
    path("", log.log, name="log"),
    path("send/", log.send, name="send"),
    # files on their way in, piece by piece: /log/upload/<id>/
    path("upload/", uploads.uploads, name="uploads"),
    path("upload/<uuid:pk>/", uploads.upload, name="upload"),
    # what stood in front of the sensor: /log/set-ups/<pk>/...
    path("set-ups/", set_ups.set_ups, name="set-ups"),
    path("set-ups/new/", set_ups.edit_set_up, name="new-set-up"),
    path("set-ups/<int:pk>/", set_ups.edit_set_up, name="set-up"),
    path("set-ups/<int:pk>/ruler/", set_ups.choose_ruler, name="choose-ruler"),
    path("set-ups/<int:pk>/ruler/<int:frame_pk>/", set_ups.ruler, name="ruler"),
    path("set-ups/<int:pk>/retire/", set_ups.retire, name="retire-set-up"),
    # one's bodies: their clocks and sensors
    path("cameras/", cameras.cameras, name="cameras"),
    path("cameras/<int:pk>/", cameras.camera, name="camera"),
    path("clock/", cameras.clock, name="clock"),
    # one's own past
    path("my-numbers/", own_past.own_numbers, name="own-numbers"),
    path("my-numbers/companion/", own_past.companion, name="companion"),
    # frames that belong together: /log/series/<pk>/... (the page itself is the course's)
    path("series/<int:pk>/proof.png", series.proof, name="proof"),
    path("series/<int:pk>/yes/", series.belong_together, name="belong-together"),
    path("series/<int:pk>/not-so/", series.not_a_series, name="not-a-series"),
    path("series/<int:pk>/plan/", series.plan_beside, name="plan-beside"),
    # one frame: /log/<pk>/...
    path("<int:pk>/", frame.frame, name="frame"),
    path("<int:pk>/on-the-sheet/", log.on_the_sheet, name="on-the-sheet"),
    path("<int:pk>/mark/", log.mark, name="mark"),
    path("<int:pk>/who-sees/", who_sees.who_sees, name="who-sees"),
    path("<int:pk>/tell/", frame.tell, name="tell"),
    path("<int:pk>/sharp-place/", frame.sharp_place, name="sharp-place"),
    path("<int:pk>/how-we-know/", frame.how_we_know, name="how-we-know"),
    path("<int:pk>/screen.jpg", pictures.screen, name="screen"),
    path("<int:pk>/thumb.jpg", pictures.thumb, name="thumb"),
    path("<int:pk>/crop", pictures.crop, name="crop"),
    path("<int:pk>/over/<slug:kind>.svg", pictures.over, name="over"),
    path("<int:pk>/original", pictures.original, name="original"),
]
