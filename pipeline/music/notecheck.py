"""What must hold of the notes of a list: their places, their techniques, how one comes from another."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

from pipeline.errors import Fault, Faulty, Place
from pipeline.music.guitar import Guitar

AtNote = Callable[[int, str], Place]
"""The place of a note's key, as it is written; key "" is the note itself."""


@dataclass
class Proof:
    """Collects the faults of one list."""

    at: AtNote
    faults: list[Fault] = field(default_factory=list)

    def wrong(self, index: int, key: str, wrong: str, remedy: str) -> None:
        self.faults.append(Fault(self.at(index, key), wrong, remedy))

    def stop_if_faulty(self) -> None:
        if self.faults:
            raise Faulty(self.faults)


def check_note(index: int, fields: dict[str, Any], guitar: Guitar, proof: Proof) -> None:
    """Tell of what is wrong with one note by itself; fill in the pitch, or the fret, that the rest gives."""
    _place(index, fields, guitar, proof)
    harmonic, struck = fields.get("harmonic"), fields.get("attack") in (None, "pick")
    if harmonic is not None and harmonic.kind == "natural" and fields.get("fret"):
        remedy = "write fret: 0 and the touched fret in harmonic"
        proof.wrong(index, "fret", "a natural harmonic on a stopped string", remedy)
    if fields.get("bend") and fields.get("dead") and fields.get("fret") is None:
        proof.wrong(index, "bend", "a bend starts from an unknown fret", "write the fret of the dead note")
    if fields.get("stroke") and not struck:
        remedy = "take stroke or attack away"
        proof.wrong(index, "stroke", "a stroke on a note that is not picked", remedy)
    if fields.get("duration") == 0 and not fields.get("grace"):
        proof.wrong(index, "duration", "the note lasts no time", "write how long, or leave duration away")


def _place(index: int, fields: dict[str, Any], guitar: Guitar, proof: Proof) -> None:
    """Check string, fret and pitch against each other and the guitar; fill in the pitch."""
    string, fret, pitch = fields.get("string"), fields.get("fret"), fields.get("pitch")
    if string is not None and string > guitar.string_count:
        remedy = f"use strings 1 to {guitar.string_count}"
        proof.wrong(index, "string", f"this guitar has no string {string}", remedy)
        return
    if string is not None and fret is None and pitch is not None and not fields.get("dead"):
        fields["fret"] = fret = pitch - guitar.open_pitch(string)
    if string is not None and fret is not None:
        try:
            stopped = guitar.pitch(string, fret)
        except ValueError as fault:
            proof.wrong(index, "fret", str(fault), f"use frets 0 to {guitar.highest_fret}")
            return
        if pitch is not None and pitch != stopped:
            wrong = f"string {string} fret {fret} is MIDI note {stopped}, not {pitch}"
            proof.wrong(index, "pitch", wrong, "leave one of them away")
        fields["pitch"] = stopped
    elif pitch is None and not fields.get("dead"):
        proof.wrong(index, "", "a note without pitch", "give pitch, or string and fret")
    elif pitch is not None and not any(True for _ in guitar.places(pitch)):
        low, high = min(guitar.strings) + guitar.capo, max(guitar.strings) + guitar.frets
        remedy = f"this guitar reaches from MIDI note {low} to {high}"
        proof.wrong(index, "pitch", f"MIDI note {pitch} is not on this guitar", remedy)


def check_sequence(ordered: Sequence[tuple[int, dict[str, Any]]], proof: Proof) -> None:
    """Tell of what is wrong with notes in their order; `ordered` has the number of each in the list."""
    _check_strings(ordered, proof)
    struck = {fields["onset"] for _, fields in ordered if not fields.get("grace")}
    latest: dict[int | None, dict[str, Any]] = {}
    for index, fields in ordered:
        _check_link(index, fields, latest.get(fields.get("string")), proof)
        latest[fields.get("string")] = latest[None] = fields
        if fields.get("grace") and fields["onset"] not in struck:
            proof.wrong(index, "grace", "a grace note before no note", "write the note at the same onset")


def _check_link(index: int, fields: dict[str, Any], before: dict[str, Any] | None, proof: Proof) -> None:
    key = "shift-slide" if fields.get("shift_slide") else "attack"
    if key == "shift-slide" or fields.get("attack") in ("pull", "slide", "tie"):
        fault = _unlinked(before, fields)
        if fault:
            proof.wrong(index, key, *fault)


def _unlinked(before: dict[str, Any] | None, fields: dict[str, Any]) -> tuple[str, str] | None:
    """What is wrong with how a note comes from the one before on its string, and the remedy.

    Where a string is open, that is the one before on any.
    """
    attack = fields.get("attack")
    if before is None:
        wrong = "no note stands before it" + " on its string" * ("string" in fields)
        return wrong, "write the one that it comes from, or take the key away"
    if None in (before.get("fret"), fields.get("fret"), fields.get("string")):
        return None
    rise = fields["fret"] - before["fret"]
    if attack == "tie" and rise:
        return (
            f"fret {fields['fret']} cannot continue {before['fret']}",
            "tie the same fret, or attack it anew",
        )
    if attack == "pull" and rise >= 0:
        return f"a pull-off from {before['fret']} to {fields['fret']}", "hammer goes up, pull goes down"
    return None


def _check_strings(ordered: Sequence[tuple[int, dict[str, Any]]], proof: Proof) -> None:
    seen: set[tuple[Fraction, int]] = set()
    for index, fields in ordered:
        key = (fields["onset"], fields.get("string") or 0)
        if key[1] and not fields.get("grace") and key in seen:
            proof.wrong(index, "string", f"a second note at beat {key[0]} on string {key[1]}", "move one")
        if not fields.get("grace"):
            seen.add(key)
