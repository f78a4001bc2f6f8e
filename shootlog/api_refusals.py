"""How a program is refused: always with a sentence."""

from rest_framework.views import exception_handler


def refused(trouble, context):
    """Give every refusal a `detail` that names what it is about; the fields stand beside it."""
    answer = exception_handler(trouble, context)
    if answer is None or (isinstance(answer.data, dict) and "detail" in answer.data):
        return answer
    told = answer.data if isinstance(answer.data, dict) else {"non_field_errors": answer.data}
    sentences = [
        words if field == "non_field_errors" else f"{field}: {words}"
        for field, each in told.items()
        for words in _flat(each)
    ]
    answer.data = {"detail": " ".join(sentences), **told}
    return answer


def _flat(each):
    if isinstance(each, dict):
        each = [words for inner in each.values() for words in _flat(inner)]
    if isinstance(each, list):
        return [words for inner in each for words in _flat(inner)]
    return [str(each)]
