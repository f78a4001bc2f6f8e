"""One table: who gets what behind every address of the house.

``KINDS`` says what each role gets of a kind of thing; ``ROUTES`` says of which kind each route is
and how it is asked. `tests/test_who_may_see_what.py` asks every route as every role and holds
the table in DEVELOPERS.md against this one.

yes: it opens (a page, a file, or a form sent back) · -: 404, as if it were not there
in: led to signing in · 401: the same, said to a program
"""

ROLES = {
    "anonymous": "nobody is signed in",
    "stranger": "otto, signed in, in no group",
    "owner": "sam, the student whose thing it is",
    "fellow": "noor, in sam's group",
    "other group": "lena, same course, another group",
    "assistant": "arno, helps with the course",
    "instructor": "ines, teaches the course",
    "other instructor": "greta, teaches another course",
}

#: what the roles get, in the order of ROLES; the words are the row's name in DEVELOPERS.md
KINDS = {
    "open to everyone": "yes yes yes yes yes yes yes yes",
    "a link with a secret in it": "yes yes yes yes yes yes yes yes",
    "one's own place": "in yes yes yes yes yes yes yes",
    "a student's own frame, set-up, series": "in - yes - - - - -",
    "what came back to a student": "in - yes - - - - -",
    "a hand-in, not shared": "in - yes - - yes yes -",
    "a hand-in shared with the group": "in - yes yes - yes yes -",
    "a hand-in shared, with people who were not asked": "in - yes - - yes yes -",
    "a hand-in withdrawn": "in - yes - - - - -",
    "a pair of first print and reshoot": "in - yes - - yes yes -",
    "a voice that was released": "in - yes - - yes yes -",
    "a hand-in to review": "in - - - - yes yes -",
    "a group, for those who teach it": "in - - - - yes yes -",
    "a group, for who leads it": "in - - - - - yes -",
    "a group's meetings and cards, for those in it": "in - yes yes - yes yes -",
    "an answer to a meeting": "in - yes yes - - - -",
    "leaving one's group": "in - yes yes - - - -",
    "a course, for those in it": "in - yes yes yes yes yes -",
    "a course, for those who teach it": "in - - - - yes yes -",
    "a hidden lesson or exercise": "in - - - - yes yes -",
    "an exercise, to hand in": "in - yes yes yes - - -",
    "a course, for who leads it": "in - - - - - yes -",
    "starting a course, for who may teach": "in - - - - - yes yes",
    "an instructor's own phrase": "in - - - - - yes -",
    "a place of those who teach, empty for others": "in yes yes yes yes yes yes yes",
    "how the house is doing, for who may teach": "in - - - - - yes yes",
    "metrics, asked from this machine": "yes yes yes yes yes yes yes yes",
    "a house that is lived in": "- - - - - - - -",
    "a second code that is switched off": "in - - - - - - -",
    "a program's own place": "401 yes yes yes yes yes yes yes",
    "a student's own frame, to a program": "401 - yes - - - - -",
    "an exercise, to a program": "401 - yes yes yes - - -",
    "a hand-in to review, to a program": "401 - - - - yes yes -",
}

#: route -> (kind, method, {argument: name of a thing}, {sent: value or thing})
#: a name after "|" is the same route asked for another thing
ROUTES = {
    "health": ("open to everyone", "get", {}),
    "ready": ("open to everyone", "get", {}),
    "metrics": ("metrics, asked from this machine", "get", {}),
    "house": ("how the house is doing, for who may teach", "get", {}),
    "numbers": ("open to everyone", "get", {}),
    "course:sign-in": ("open to everyone", "get", {}),
    "course:sign-in-code": ("open to everyone", "get", {}),
    "course:sign-out": ("open to everyone", "post", {}),
    "course:home": ("open to everyone", "get", {}),
    "course:first-run": ("a house that is lived in", "get", {}),
    "course:join": ("a link with a secret in it", "get", {"token": "invitation"}),
    "course:reset": ("a link with a secret in it", "get", {"token": "reset"}),
    "course:feed": ("a link with a secret in it", "get", {"token": "feed"}),
    "course:stop-mails": ("a link with a secret in it", "get", {"token": "stop_mails"}),
    "course:confirm-mail": ("a link with a secret in it", "get", {"token": "confirm_mail"}),
    # one's own places
    "course:me": ("one's own place", "get", {}),
    "course:safety": ("one's own place", "get", {}),
    "course:change-password": ("one's own place", "get", {}),
    "course:end-session": ("a student's own frame, set-up, series", "post", {"pk": "session"}),
    "course:end-other-sessions": ("one's own place", "post", {}),
    "course:second-factor": ("one's own place", "get", {}),
    "course:new-recovery-codes": ("a second code that is switched off", "get", {}),
    "course:second-factor-off": ("a second code that is switched off", "get", {}),
    "course:my-things": ("one's own place", "get", {}),
    "course:take-everything": ("one's own place", "post", {}),
    "course:delete-me": ("one's own place", "get", {}),
    "course:people": ("one's own place", "get", {}),
    "course:this-week": ("one's own place", "get", {}),
    "course:my-weeks": ("one's own place", "get", {}),
    "course:looked-first": ("what came back to a student", "post", {"pk": "private"}),
    "course:progress-of": (
        "a group, for those who teach it",
        "get",
        {"pk": "group", "enrolment_pk": "enrolment"},
    ),
    "course:leave-group": ("leaving one's group", "post", {"pk": "group"}),
    # the log
    "shootlog:log": ("one's own place", "get", {}),
    "shootlog:send": ("one's own place", "post", {}),
    "shootlog:uploads": ("one's own place", "options", {}),
    "shootlog:upload": ("a student's own frame, set-up, series", "head", {"pk": "upload"}),
    "shootlog:set-ups": ("one's own place", "get", {}),
    "shootlog:new-set-up": ("one's own place", "get", {}),
    "shootlog:set-up": ("a student's own frame, set-up, series", "get", {"pk": "set_up"}),
    "shootlog:choose-ruler": ("a student's own frame, set-up, series", "get", {"pk": "set_up"}),
    "shootlog:ruler": (
        "a student's own frame, set-up, series",
        "get",
        {"pk": "set_up", "frame_pk": "frame"},
    ),
    "shootlog:retire-set-up": ("a student's own frame, set-up, series", "post", {"pk": "set_up"}),
    "shootlog:cameras": ("one's own place", "get", {}),
    "shootlog:camera": ("a student's own frame, set-up, series", "get", {"pk": "camera"}),
    "shootlog:clock": ("one's own place", "get", {}),
    "shootlog:frame": ("a student's own frame, set-up, series", "get", {"pk": "frame"}),
    "shootlog:on-the-sheet": ("a student's own frame, set-up, series", "get", {"pk": "frame"}),
    "shootlog:mark": ("a student's own frame, set-up, series", "post", {"pk": "frame"}),
    "shootlog:tell": ("a student's own frame, set-up, series", "post", {"pk": "frame"}),
    "shootlog:sharp-place": ("a student's own frame, set-up, series", "post", {"pk": "frame"}),
    "shootlog:who-sees": ("a student's own frame, set-up, series", "get", {"pk": "frame"}),
    "shootlog:how-we-know": ("a student's own frame, set-up, series", "get", {"pk": "frame"}),
    "shootlog:screen": ("a student's own frame, set-up, series", "get", {"pk": "frame"}),
    "shootlog:thumb": ("a student's own frame, set-up, series", "get", {"pk": "frame"}),
    "shootlog:crop": ("a student's own frame, set-up, series", "get", {"pk": "frame"}),
    "shootlog:over": (
        "a student's own frame, set-up, series",
        "get",
        {"pk": "frame", "kind": "=sharp"},
    ),
    "shootlog:original": ("a student's own frame, set-up, series", "get", {"pk": "frame"}),
    "shootlog:own-numbers": ("one's own place", "get", {}),
    "shootlog:companion": ("one's own place", "get", {}),
    "course:series": ("a student's own frame, set-up, series", "get", {"pk": "series"}),
    "course:animal-left": ("a student's own frame, set-up, series", "post", {"pk": "approach"}),
    "shootlog:plan-beside": ("a student's own frame, set-up, series", "post", {"pk": "series"}),
    "shootlog:proof": ("a student's own frame, set-up, series", "get", {"pk": "series"}),
    "shootlog:belong-together": ("a student's own frame, set-up, series", "post", {"pk": "offer"}),
    "shootlog:not-a-series": ("a student's own frame, set-up, series", "post", {"pk": "offer"}),
    "course:delete-frame": ("a student's own frame, set-up, series", "post", {"pk": "frame"}),
    # planning
    "course:plan": ("one's own place", "get", {}),
    "planning:ladder": ("one's own place", "get", {}),
    "planning:what-if": ("one's own place", "get", {}),
    "planning:stack": ("one's own place", "get", {}),
    "planning:landscape": ("one's own place", "get", {}),
    "planning:kit": ("one's own place", "get", {}),
    "planning:add-to-kit": ("one's own place", "post", {"kind": "lens"}),
    "planning:remove-from-kit": ("a student's own frame, set-up, series", "post", {"pk": "kit"}),
    "planning:from-set-ups": ("one's own place", "post", {}),
    "planning:kept-plans": ("one's own place", "get", {}),
    "planning:kept": ("a student's own frame, set-up, series", "get", {"pk": "plan"}),
    "planning:beside": ("a student's own frame, set-up, series", "post", {"pk": "plan"}),
    "planning:forget-plan": ("a student's own frame, set-up, series", "post", {"pk": "plan"}),
    # a hand-in
    "course:hand-in": ("an exercise, to hand in", "get", {"pk": "exercise"}),
    "course:came-back": ("what came back to a student", "get", {"pk": "private"}),
    "course:withdraw": ("what came back to a student", "post", {"pk": "private"}),
    "course:share": ("what came back to a student", "post", {"pk": "private"}),
    "course:pair": ("a pair of first print and reshoot", "get", {"pk": "reshoot"}),
    "course:pair-laid": ("a pair of first print and reshoot", "get", {"pk": "reshoot"}),
    "course:print-how": (
        "a hand-in to review",
        "get",
        {"pk": "private", "frame_pk": "frame"},
    ),
    "course:print-proof": ("a hand-in, not shared", "get", {"pk": "private"}),
    "course:print-proof|shared": ("a hand-in, not shared", "get", {"pk": "shared"}),
    "course:print-proof|withdrawn": ("a hand-in withdrawn", "get", {"pk": "withdrawn"}),
    "course:print-screen": (
        "a hand-in, not shared",
        "get",
        {"pk": "private", "frame_pk": "frame"},
    ),
    "course:print-screen|shared": (
        "a hand-in shared with the group",
        "get",
        {"pk": "shared", "frame_pk": "frame"},
    ),
    "course:print-screen|people": (
        "a hand-in shared, with people who were not asked",
        "get",
        {"pk": "with_people", "frame_pk": "people_frame"},
    ),
    "course:print-screen|withdrawn": (
        "a hand-in withdrawn",
        "get",
        {"pk": "withdrawn", "frame_pk": "frame"},
    ),
    "course:print-thumb": ("a hand-in, not shared", "get", {"pk": "private", "frame_pk": "frame"}),
    "course:print-thumb|shared": (
        "a hand-in shared with the group",
        "get",
        {"pk": "shared", "frame_pk": "frame"},
    ),
    "course:print-crop": ("a hand-in, not shared", "get", {"pk": "private", "frame_pk": "frame"}),
    "course:print-crop|shared": (
        "a hand-in shared with the group",
        "get",
        {"pk": "shared", "frame_pk": "frame"},
    ),
    "course:print-over": (
        "a hand-in, not shared",
        "get",
        {"pk": "private", "frame_pk": "frame", "kind": "=sharp"},
    ),
    "course:print-over|shared": (
        "a hand-in, not shared",
        "get",
        {"pk": "shared", "frame_pk": "frame", "kind": "=lost"},
    ),
    "course:print-over|withdrawn": (
        "a hand-in withdrawn",
        "get",
        {"pk": "withdrawn", "frame_pk": "frame", "kind": "=sharp"},
    ),
    # reviewing
    "course:to-look-at": ("a place of those who teach, empty for others", "get", {}),
    "course:many": ("a place of those who teach, empty for others", "post", {}),
    "course:look": ("a hand-in to review", "get", {"pk": "private"}),
    "course:words": ("a hand-in to review", "post", {"pk": "private"}),
    "course:decide": ("a hand-in to review", "post", {"pk": "private"}),
    "course:release": ("a hand-in to review", "post", {"pk": "private"}),
    "course:not-so": (
        "a hand-in to review",
        "post",
        {"pk": "private", "frame_pk": "frame", "finding": "=diffraction"},
    ),
    "course:not-so-series": (
        "a hand-in to review",
        "post",
        {"pk": "private", "finding": "=stack-gap"},
    ),
    "course:say-first": (
        "a hand-in to review",
        "post",
        {"pk": "private", "finding": "=diffraction"},
    ),
    "course:keep-voice": ("a hand-in to review", "post", {"pk": "private"}),
    "course:voice": ("a voice that was released", "get", {"pk": "crit"}),
    "course:phrases": ("a place of those who teach, empty for others", "get", {}),
    "course:forget-phrase": ("an instructor's own phrase", "post", {"pk": "phrase"}),
    "course:class-sheet": ("a group, for those who teach it", "get", {"pk": "group"}),
    "course:evening": ("a group, for those who teach it", "get", {"pk": "group"}),
    "course:evening-paper": ("a group, for those who teach it", "get", {"pk": "group"}),
    "course:contact-sheet": ("a student's own frame, set-up, series", "get", {"day": "day_shot"}),
    "course:contact-sheet-paper": (
        "a student's own frame, set-up, series",
        "get",
        {"day": "day_shot"},
    ),
    "course:projection": ("a group, for those who teach it", "get", {"pk": "group"}),
    # groups and meetings
    "course:groups": ("a place of those who teach, empty for others", "get", {}),
    "course:new-group": ("a place of those who teach, empty for others", "get", {}),
    "course:group": ("a group, for those who teach it", "get", {"pk": "group"}),
    "course:edit-group": ("a group, for who leads it", "get", {"pk": "group"}),
    "course:invite": ("a group, for who leads it", "post", {"pk": "group"}),
    "course:withdraw-invitation": (
        "a group, for who leads it",
        "post",
        {"pk": "group", "invitation_pk": "invitation_row"},
    ),
    "course:make-reset-link": (
        "a group, for who leads it",
        "post",
        {"pk": "group", "enrolment_pk": "enrolment"},
    ),
    "course:remove-person": (
        "a group, for who leads it",
        "post",
        {"pk": "group", "enrolment_pk": "enrolment"},
    ),
    "course:new-meeting": ("a group, for who leads it", "get", {"pk": "group"}),
    "course:edit-meeting": (
        "a group, for who leads it",
        "get",
        {"pk": "group", "meeting_pk": "meeting"},
    ),
    "course:meetings": ("a group's meetings and cards, for those in it", "get", {"pk": "group"}),
    "course:coming": ("an answer to a meeting", "post", {"pk": "meeting"}),
    "course:meeting-sheet": ("a group, for those who teach it", "get", {"pk": "meeting"}),
    "course:came": ("a group, for those who teach it", "post", {"pk": "meeting"}),
    # courses
    "course:courses": ("a place of those who teach, empty for others", "get", {}),
    "course:new-course": ("starting a course, for who may teach", "get", {}),
    "course:load-ours": ("starting a course, for who may teach", "post", {}),
    "course:bring-in": ("starting a course, for who may teach", "get", {}),
    "course:take-along": ("a course, for who leads it", "get", {"pk": "course"}),
    "course:copy-course": ("a course, for who leads it", "post", {"pk": "course"}),
    "course:course-picture": (
        "a course, for those in it",
        "get",
        {"pk": "course", "name": "=drawing.png"},
    ),
    "course:course": ("a course, for those who teach it", "get", {"pk": "course"}),
    "course:edit-course": ("a course, for who leads it", "get", {"pk": "course"}),
    "course:new-week": ("a course, for who leads it", "post", {"course_pk": "course"}),
    "course:edit-week": ("a course, for who leads it", "get", {"pk": "week"}),
    "course:earlier-week": ("a course, for who leads it", "get", {"pk": "week"}),
    "course:one-earlier-week": (
        "a course, for who leads it",
        "get",
        {"pk": "week", "revision_pk": "week_revision"},
    ),
    "course:move-week": ("a course, for who leads it", "post", {"pk": "week"}),
    "course:new-lesson": ("a course, for who leads it", "get", {"week_pk": "week"}),
    "course:new-exercise": ("a course, for who leads it", "get", {"week_pk": "week"}),
    "course:read-course": ("a course, for those in it", "get", {"pk": "course"}),
    "course:lesson": ("a course, for those in it", "get", {"pk": "lesson"}),
    "course:lesson|hidden": ("a hidden lesson or exercise", "get", {"pk": "hidden_lesson"}),
    "course:edit-lesson": ("a course, for who leads it", "get", {"pk": "lesson"}),
    "course:move-lesson": ("a course, for who leads it", "post", {"pk": "lesson"}),
    "course:earlier-lesson": ("a course, for who leads it", "get", {"pk": "lesson"}),
    "course:one-earlier-lesson": (
        "a course, for who leads it",
        "get",
        {"pk": "lesson", "revision_pk": "lesson_revision"},
    ),
    "course:move-exercise": ("a course, for who leads it", "post", {"pk": "exercise"}),
    "course:earlier-exercise": ("a course, for who leads it", "get", {"pk": "exercise"}),
    "course:one-earlier-exercise": (
        "a course, for who leads it",
        "get",
        {"pk": "exercise", "revision_pk": "exercise_revision"},
    ),
    "course:pictures": ("a course, for who leads it", "get", {"pk": "course"}),
    "course:take-picture-out": (
        "a course, for who leads it",
        "post",
        {"pk": "course", "picture_pk": "picture"},
    ),
    "course:exercise": ("a course, for those in it", "get", {"pk": "exercise"}),
    "course:exercise|hidden": ("a hidden lesson or exercise", "get", {"pk": "hidden_exercise"}),
    "course:edit-exercise": ("a course, for who leads it", "get", {"pk": "exercise"}),
    "course:topic": ("one's own place", "get", {"slug": "=shake"}),
    # what is carried along
    "course:cards": ("one's own place", "get", {}),
    "course:card": ("a group's meetings and cards, for those in it", "get", {"pk": "group"}),
    "course:card-paper": (
        "a group's meetings and cards, for those in it",
        "get",
        {"pk": "group", "size": "=a6", "points": "=14"},
    ),
    "course:handout": (
        "a course, for those in it",
        "get",
        {"pk": "lesson", "size": "=a4", "points": "=14"},
    ),
    "course:field-log": ("one's own place", "get", {}),
    "course:field-log-send": ("one's own place", "post", {}),
    "course:field-notes": ("one's own place", "get", {}),
    "course:settle-note": ("a student's own frame, set-up, series", "post", {"pk": "note"}),
    "course:offline-worker": ("open to everyone", "get", {}),
    "course:manifest": ("open to everyone", "get", {}),
    # programs
    "api-schema": ("open to everyone", "get", {}),
    "api-frames": ("a program's own place", "post", {}),
    "api-frame": ("a student's own frame, to a program", "get", {"pk": "frame"}),
    "api-one-series": ("a student's own frame, to a program", "get", {"pk": "series"}),
    "api-exercises": ("a program's own place", "get", {}),
    "api-hand-ins": ("an exercise, to a program", "post", {}),
    "api-review": ("a program's own place", "get", {}),
    "api-crits": ("a hand-in to review, to a program", "post", {}),
}


def expected(route):
    """Return {role: cell} for a route of the table."""
    return dict(zip(ROLES, KINDS[ROUTES[route][0]].split(), strict=True))


def as_markdown():
    """Write the table as it stands in DEVELOPERS.md: one row per kind, with its routes."""
    routes = {kind: [] for kind in KINDS}
    for name, (kind, *_) in ROUTES.items():
        plain = name.partition("|")[0].partition(":")[2] or name
        if plain not in routes[kind]:
            routes[kind].append(plain)
    lines = ["| thing | " + " | ".join(ROLES) + " | routes |", "|---" * (len(ROLES) + 2) + "|"]
    for kind, cells in KINDS.items():
        lines.append(f"| {kind} | {' | '.join(cells.split())} | {', '.join(routes[kind])} |")
    return "\n".join(lines)


if __name__ == "__main__":
    from pathlib import Path

    document = Path(__file__).parents[1] / "DEVELOPERS.md"
    before, _, rest = document.read_text().partition("<!-- who-may-see -->\n")
    after = rest.partition("<!-- /who-may-see -->")[2]
    marked = f"<!-- who-may-see -->\n{as_markdown()}\n<!-- /who-may-see -->"
    document.write_text(before + marked + after)
