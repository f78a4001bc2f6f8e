"""The course's map."""

from django.urls import path

from course.views import (
    card,
    carry,
    class_sheet,
    courses,
    crit,
    earlier,
    field_log,
    groups,
    hand_in,
    handout,
    mails,
    meetings,
    offline,
    pair,
    people,
    pictures,
    plan,
    print_files,
    progress,
    projection,
    review,
    safety,
    series,
    sheets,
    sign_in,
    things,
    this_week,
    voice,
    write,
)

app_name = "course"

urlpatterns = [
    # who one is: /sign-in/, /join/<token>/, /me/ ...
    path("", people.home, name="home"),
    path("first/", people.first_run, name="first-run"),
    path("sign-in/", sign_in.sign_in, name="sign-in"),
    path("sign-in/code/", sign_in.sign_in_code, name="sign-in-code"),
    path("sign-out/", sign_in.sign_out, name="sign-out"),
    path("join/<str:token>/", people.join, name="join"),
    path("reset/<str:token>/", people.reset, name="reset"),
    path("me/", people.me, name="me"),
    # from a mail, without signing in
    path("mail/stop/<str:token>/", mails.stop_mails, name="stop-mails"),
    path("mail/yes/<str:token>/", mails.confirm_mail, name="confirm-mail"),
    # one's own account: /me/account/...
    path("me/account/", safety.safety, name="safety"),
    path("me/account/password/", safety.change_password, name="change-password"),
    path("me/account/sign-out/<int:pk>/", safety.end_session, name="end-session"),
    path("me/account/sign-out/others/", safety.end_other_sessions, name="end-other-sessions"),
    path("me/account/code/", safety.second_factor, name="second-factor"),
    path("me/account/code/recovery/", safety.new_recovery_codes, name="new-recovery-codes"),
    path("me/account/code/off/", safety.second_factor_off, name="second-factor-off"),
    # one's own things: /me/things/...
    path("me/things/", things.my_things, name="my-things"),
    path("me/things/take/", things.take_everything, name="take-everything"),
    path("me/things/delete/", things.delete_me, name="delete-me"),
    path("me/things/frame/<int:pk>/", things.delete_frame, name="delete-frame"),
    path("people/", people.people, name="people"),
    path("people/leave/<int:pk>/", people.leave_group, name="leave-group"),
    # weeks by topics: one's own, and a student's for those who teach
    path("my-weeks/", progress.own, name="my-weeks"),
    path("groups/<int:pk>/weeks/<int:enrolment_pk>/", progress.of_student, name="progress-of"),
    # the student's first place: /this-week/
    path("this-week/", this_week.this_week, name="this-week"),
    # the people taking a course: /groups/<pk>/...
    path("groups/", groups.groups, name="groups"),
    path("groups/new/", groups.new_group, name="new-group"),
    path("groups/<int:pk>/", groups.group, name="group"),
    path("groups/<int:pk>/change/", groups.edit_group, name="edit-group"),
    path("groups/<int:pk>/invite/", groups.invite, name="invite"),
    path(
        "groups/<int:pk>/withdraw/<int:invitation_pk>/",
        groups.withdraw_invitation,
        name="withdraw-invitation",
    ),
    path(
        "groups/<int:pk>/reset/<int:enrolment_pk>/", groups.make_reset_link, name="make-reset-link"
    ),
    path("groups/<int:pk>/remove/<int:enrolment_pk>/", groups.remove_person, name="remove-person"),
    path("groups/<int:pk>/meetings/new/", groups.edit_meeting, name="new-meeting"),
    path("groups/<int:pk>/meetings/<int:meeting_pk>/", groups.edit_meeting, name="edit-meeting"),
    path("groups/<int:pk>/meetings/", meetings.meetings, name="meetings"),
    path("meetings/<int:pk>/coming/", meetings.coming, name="coming"),
    path("meetings/<int:pk>/sheet/", meetings.sheet, name="meeting-sheet"),
    path("meetings/<int:pk>/came/", meetings.came, name="came"),
    path("feed/<str:token>/meetings.ics", meetings.feed, name="feed"),
    # writing and reading a course: /course/<pk>/, /lesson/<pk>/, /exercise/<pk>/
    path("course/", courses.courses, name="courses"),
    path("course/new/", courses.new_course, name="new-course"),
    path("course/load-ours/", carry.load_ours, name="load-ours"),
    path("course/bring-in/", carry.bring_in, name="bring-in"),
    path("course/<int:pk>/take-along/", carry.take_along, name="take-along"),
    path("course/<int:pk>/copy/", carry.copy, name="copy-course"),
    path("course/<int:pk>/pictures/", pictures.pictures, name="pictures"),
    path(
        "course/<int:pk>/pictures/<int:picture_pk>/out/", pictures.take_out, name="take-picture-out"
    ),
    path("course/<int:pk>/pictures/<str:name>", carry.picture, name="course-picture"),
    path("course/<int:pk>/", courses.course, name="course"),
    path("course/<int:pk>/change/", courses.edit_course, name="edit-course"),
    path("course/<int:pk>/week/", courses.new_week, name="new-week"),
    path("week/<int:pk>/change/", courses.edit_week, name="edit-week"),
    path("week/<int:pk>/move/", courses.move_week, name="move-week"),
    path("week/<int:week_pk>/lesson/", write.edit_lesson, name="new-lesson"),
    path("week/<int:week_pk>/exercise/", write.edit_exercise, name="new-exercise"),
    path("lesson/<int:pk>/", courses.lesson, name="lesson"),
    path("lesson/<int:pk>/change/", write.edit_lesson, name="edit-lesson"),
    path("exercise/<int:pk>/", courses.exercise, name="exercise"),
    path("exercise/<int:pk>/change/", write.edit_exercise, name="edit-exercise"),
    path("lesson/<int:pk>/move/", write.move, {"kind": "lesson"}, name="move-lesson"),
    path("lesson/<int:pk>/earlier/", earlier.earlier, {"kind": "lesson"}, name="earlier-lesson"),
    path(
        "lesson/<int:pk>/earlier/<int:revision_pk>/",
        earlier.one_earlier,
        {"kind": "lesson"},
        name="one-earlier-lesson",
    ),
    path("exercise/<int:pk>/move/", write.move, {"kind": "exercise"}, name="move-exercise"),
    path(
        "exercise/<int:pk>/earlier/", earlier.earlier, {"kind": "exercise"}, name="earlier-exercise"
    ),
    path(
        "exercise/<int:pk>/earlier/<int:revision_pk>/",
        earlier.one_earlier,
        {"kind": "exercise"},
        name="one-earlier-exercise",
    ),
    path("topic/<slug:slug>/", courses.topic, name="topic"),
    # --- the loop, first to last ---
    # the student: /hand-in/<exercise>/, /came-back/<hand-in>/...
    path("hand-in/<int:pk>/", hand_in.hand_in, name="hand-in"),
    path("came-back/<int:pk>/", hand_in.came_back, name="came-back"),
    path("came-back/<int:pk>/looked-first/", hand_in.looked_first, name="looked-first"),
    path("came-back/<int:pk>/withdraw/", hand_in.withdraw, name="withdraw"),
    path("came-back/<int:pk>/share/", hand_in.share, name="share"),
    # a series, seen from the log: /log/series/<pk>/; what is said of it waits for its week
    path("log/series/<int:pk>/", series.series, name="series"),
    path("log/series/<int:pk>/animal-left/", series.animal_left, name="animal-left"),
    # the instructor: /to-look-at/<hand-in>/...
    path("to-look-at/", review.to_look_at, name="to-look-at"),
    path("to-look-at/many/", review.many, name="many"),
    path("to-look-at/<int:pk>/", review.look, name="look"),
    path("to-look-at/<int:pk>/words/", crit.words, name="words"),
    path("to-look-at/<int:pk>/decide/", crit.decide, name="decide"),
    path("to-look-at/<int:pk>/release/", crit.release, name="release"),
    path("to-look-at/<int:pk>/not-so/<int:frame_pk>/<slug:finding>/", crit.not_so, name="not-so"),
    path(
        "to-look-at/<int:pk>/not-so-series/<slug:finding>/",
        crit.not_so_series,
        name="not-so-series",
    ),
    path("to-look-at/<int:pk>/say-first/<slug:finding>/", crit.say_first, name="say-first"),
    path("to-look-at/<int:pk>/voice/", voice.keep, name="keep-voice"),
    path("voice/<int:pk>/", voice.hear, name="voice"),
    path("phrases/", crit.phrases, name="phrases"),
    path("phrases/<int:pk>/forget/", crit.forget_phrase, name="forget-phrase"),
    # pictures of a hand-in: /print/<hand-in>/<frame>/...
    path("print/<int:pk>/<int:frame_pk>/screen.jpg", print_files.screen, name="print-screen"),
    path("print/<int:pk>/<int:frame_pk>/thumb.jpg", print_files.thumb, name="print-thumb"),
    path("print/<int:pk>/<int:frame_pk>/crop", print_files.crop, name="print-crop"),
    path("print/<int:pk>/<int:frame_pk>/over/<slug:kind>.svg", print_files.over, name="print-over"),
    path("print/<int:pk>/proof.png", print_files.proof, name="print-proof"),
    path("print/<int:pk>/<int:frame_pk>/how-we-know/", print_files.how_we_know, name="print-how"),
    # both, and the evening
    path("pair/<int:pk>/", pair.pair, name="pair"),
    path("pair/<int:pk>/laid/", pair.laid, name="pair-laid"),
    path("class-sheet/<int:pk>/", class_sheet.class_sheet, name="class-sheet"),
    path("print-evening/<int:pk>/", sheets.evening, name="evening"),
    path("print-evening/<int:pk>/a4.pdf", sheets.evening_paper, name="evening-paper"),
    path("contact-sheet/<str:day>/", sheets.contact_sheet, name="contact-sheet"),
    path("contact-sheet/<str:day>/a4.pdf", sheets.contact_sheet_paper, name="contact-sheet-paper"),
    path("projection/<int:pk>/", projection.projection, name="projection"),
    # --- end of the loop ---
    # planning, and what a student carries; the rest of /plan/ is shootlog.plan_urls
    path("plan/", plan.plan, name="plan"),
    path("card/", card.cards, name="cards"),
    path("card/<int:pk>/", card.card, name="card"),
    path("card/<int:pk>/<str:size>-<int:points>pt.pdf", card.card_paper, name="card-paper"),
    path("lesson/<int:pk>/handout-<str:size>-<int:points>pt.pdf", handout.handout, name="handout"),
    path("field-log/", field_log.field_log, name="field-log"),
    path("field-log/send/", field_log.send, name="field-log-send"),
    path("field-log/notes/", field_log.field_notes, name="field-notes"),
    path("field-log/notes/<int:pk>/settle/", field_log.settle, name="settle-note"),
    # without signal; the worker stands at the root so that it may answer for both pages above
    path("offline-worker.js", offline.worker, name="offline-worker"),
    path("field-card.webmanifest", offline.manifest, name="manifest"),
]
