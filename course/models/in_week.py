"""What lessons and exercises share: a place in their week, and waiting until it is taught."""

from django.db import models, transaction


def open_to(user, *, week="week"):
    """The condition under which a student sees a page of a week.

    What is hidden until taught opens for a group when the group reaches that week: two groups of
    one course may be in different weeks, so nobody has to remember to open anything.
    """
    groups = f"{week}__course__groups"
    mine = {
        f"{groups}__enrolments__user": user,
        f"{groups}__enrolments__left_at": None,
    }
    reached = models.Q(**{f"{groups}__week_now__gte": models.F(f"{week}__number")})
    return models.Q(**mine) & (models.Q(hidden=False, **{f"{week}__hidden": False}) | reached)


class InWeek(models.Model):
    position = models.PositiveSmallIntegerField(default=0)
    hidden = models.BooleanField(default=False)  # until the group reaches its week

    class Meta:
        abstract = True
        ordering = ["position", "pk"]

    @transaction.atomic
    def move(self, *, up):
        """Change places with the neighbour in the same week; at either end nothing happens."""
        order = list(type(self).objects.select_for_update().filter(week=self.week_id).in_place())
        here = order.index(self)
        there = here - 1 if up else here + 1
        if 0 <= there < len(order):
            order[here], order[there] = order[there], order[here]
        for k, page in enumerate(order):
            page.position = k
        type(self).objects.bulk_update(order, ["position"])

    def go_last(self):
        """Take the last place of its week."""
        places = type(self).objects.filter(week=self.week_id).exclude(pk=self.pk)
        last = places.aggregate(last=models.Max("position"))["last"]
        self.position = 0 if last is None else last + 1
