"""Which fragment and clip of a script are meant where a user left a name out: the only one there is."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from pipeline.errors import faulty
from pipeline.lesson.proof import Proof
from pipeline.lesson.script import read_script

FIRST = 12
"""So many names are told of many."""


@dataclass(frozen=True)
class Meant:
    """The names, and a word on each that was taken without being said."""

    fragment: str
    clip: str | None
    remarks: tuple[str, ...]


def meant(
    script: Path, fragment: str | None, clip: str | None, needs_clip: bool, allow_outside: bool
) -> Meant:
    """The fragment of a script, and its clip where one is needed. Raises Faulty where several could be meant.

    Names that were said are taken as they are. A single one that only a clip bears is the clip's.
    """
    if fragment is not None and (clip is not None or not needs_clip):
        return Meant(fragment, clip, ())
    proof = Proof(read_script(script, allow_outside))
    episode = proof.script.episode
    if clip is None and needs_clip and fragment in episode.clips and fragment not in episode.fragments:
        fragment, clip = None, fragment
    remarks = list[str]()
    fragment = fragment or _only(proof, "fragment", tuple(episode.fragments), remarks)
    if needs_clip:
        clip = clip or _only(proof, "clip", tuple(episode.clips), remarks)
    return Meant(fragment, clip, tuple(remarks))


def _only(proof: Proof, kind: str, names: Sequence[str], remarks: list[str]) -> str:
    if len(names) == 1:
        remarks.append(f"{kind} {names[0]}, the only one")
        return names[0]
    proof.stop_if_faulty()
    place = proof.script.source.place((f"{kind}s",))
    if not names:
        raise faulty(place, f"the script has no {kind}", f"write one under `{kind}s:`")
    more = f" and {len(names) - FIRST} more" if len(names) > FIRST else ""
    wrong = f"{len(names)} {kind}s could be meant: {', '.join(names[:FIRST])}{more}"
    raise faulty(place, wrong, "name one of them behind the script")
