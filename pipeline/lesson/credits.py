"""The sheet of credits and rights: who teaches, whose recordings these are, what the law may want."""

from pipeline.lesson.lesson import Lesson

RIGHTS_NOTE = (
    "A passage and a recording of it are separate rights, and what teaching may quote differs from country "
    "to country. Get the licences that you need and ask a qualified adviser; this sheet is no legal advice."
)


def credit_lines(lesson: Lesson) -> list[str]:
    """The credits, a line each: the script's own, then every recording and film with its rights."""
    rights = [f"{one.kind.capitalize()} {one.name}: {one.rights}" for one in lesson.rights]
    return [*lesson.credits, *rights]


def credit_sheet(lesson: Lesson) -> str:
    """A text file to hand over with the lesson."""
    head = [lesson.title, f"Taught by {lesson.teacher}", ""]
    return "\n".join([*head, *credit_lines(lesson), "", RIGHTS_NOTE, ""])
