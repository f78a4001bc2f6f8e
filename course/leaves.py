"""Leaves that know which of how many they are, for whom. For reportlab."""

from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable


class Begins(Flowable):
    """Takes no room; says that somebody's leaves begin here."""

    def __init__(self, whose):
        super().__init__()
        self.whose = whose
        self.width = self.height = 0

    def draw(self):
        self.canv.begins.append((self.canv.getPageNumber(), self.whose))


class NumberedCanvas(Canvas):
    """Keeps every leaf until all are known, then has each numbered."""

    def __init__(self, *args, numbered, **kwargs):
        super().__init__(*args, **kwargs)
        self.begins = []
        self._numbered = numbered
        self._leaves = []

    def showPage(self):  # noqa: N802 - the library's own name
        self._leaves.append(dict(self.__dict__))
        self._startPage()

    def save(self):
        begins, last = self.begins or [(1, "")], len(self._leaves)
        ends = [start - 1 for start, _ in begins[1:]] + [last]
        of = {
            page: (whose, page - start + 1, end - start + 1)
            for (start, whose), end in zip(begins, ends, strict=True)
            for page in range(start, end + 1)
        }
        for page, leaf in enumerate(self._leaves, 1):
            self.__dict__.update(leaf)
            self._numbered(self, *of[page])
            super().showPage()
        super().save()
