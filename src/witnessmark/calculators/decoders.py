"""Numbers and codes read off the machine, and what its reader shows: by open standards, nothing of a maker's own."""

from __future__ import annotations

from witnessmark import decode
from witnessmark.calculators.decoder_pictures import identification_picture
from witnessmark.calculators.model import (
    Asked,
    Calculated,
    CalculationError,
    Calculator,
    Inputs,
    lines_of,
)
from witnessmark.calculators.system import today
from witnessmark.decode import Pasted, ReadOut
from witnessmark.decode.comparison import Comparison
from witnessmark.decode.identification import SOURCE as IDENTIFICATION
from witnessmark.decode.identification import weighted_sum
from witnessmark.decode.identification_words import facts_of, warnings_of
from witnessmark.decode.trouble_codes import SOURCE as CODES

ANSWERS = "ISO 14229-1 clause 11.3 (service 19), ISO 15031-5 / SAE J1979 (services 03, 07, 0A)"
CLEAR = "Copy the codes before anything is cleared: what was stored with them is gone then."
MIXED = "P0301\nC0123-16 status 2F\n59 02 7F 0A 9B 17 24 08 05 11 2F"


def _identification(inputs: Inputs) -> Calculated:
    written = str(inputs["number"])
    read = decode.read_identification(written, today().year, place="number")
    total = weighted_sum(read.number)
    if read.check_fits:
        check = "the check digit fits"
    elif read.check_expected:
        check = "the check digit does not fit"
    else:
        check = "position 9 is no check digit, and need not be one there"
    return Calculated(
        said=f"{read.number}: {read.country or read.region}; {check}.",
        lines=facts_of(read),
        formula=f"check digit = sum of value × weight modulo 11, 10 is X: {total} modulo 11 = {read.computed}",
        put_in=(("number", f"“{written}” is {read.number}"),),
        source=IDENTIFICATION,
        warnings=warnings_of(read),
        picture=identification_picture(read),
    )


def _codes(inputs: Inputs) -> Calculated:
    read = _read(inputs, "shown")
    lines = [(f"line {one.line}: {one.code.written}", _told(one)) for one in read.seen]
    lines += [(f"line {number}", said) for number, said in read.said]
    lines += [(f"line {one.line}, not read: {one.text}", one.why) for one in read.unread]
    return Calculated(
        said=_said(read),
        lines=tuple(lines),
        formula="letter by bits 15 and 14 (P, C, B, U), first digit by bits 13 and 12, then three digits of four bits",
        put_in=(("shown", f"{len(lines_of(inputs, 'shown'))} lines"),),
        source=f"{CODES}; {ANSWERS}",
        warnings=_unread(read),
    )


def _compared(inputs: Inputs) -> Calculated:
    before, after = _read(inputs, "before"), _read(inputs, "after")
    for name, read in (("before", before), ("after", after)):
        if not read.conclusive:
            problem = "no code is in it, and it does not say that there is none"
            raise CalculationError(name, problem, "paste the codes, or write none")
    cleared = inputs.get("cleared") == "yes" or after.cleared
    told = decode.compare([ReadOut(before.seen), ReadOut(after.seen, cleared)])
    return Calculated(
        said=f"{told.words[:1].upper()}{told.words[1:]}.",
        lines=_compared_lines(told),
        formula="gone: before, not after; stayed: both; new: after only; returned: both, cleared in between",
        put_in=(
            ("before", ", ".join(code.written for code in before.codes) or "none"),
            ("after", ", ".join(code.written for code in after.codes) or "none"),
            ("cleared", "yes" if cleared else "no"),
        ),
        source=f"{CODES}; the words are ours",
        warnings=(*_unread(before), *_unread(after), *_untested(told)),
    )


def _compared_lines(told: Comparison) -> tuple[tuple[str, str], ...]:
    return tuple(
        (f"{word}: {one.written}", one.words) for word, codes in told.groups for one in codes
    )


def _untested(told: Comparison) -> tuple[str, ...]:
    if not told.untested:
        return ()
    several = ", ".join(one.written for one in told.untested)
    return (f"Gone, but not tested since the codes were cleared: {several}. Ride, and read again.",)


def _read(inputs: Inputs, name: str) -> Pasted:
    return decode.read_pasted("\n".join(lines_of(inputs, name)))


def _said(read: Pasted) -> str:
    several = ", ".join(code.written for code in read.codes)
    if several:
        return f"{several}."
    if read.nothing:
        return "No codes."
    return "Codes were cleared." if read.cleared else "No code could be read."


def _told(one: decode.Seen) -> str:
    status = "" if one.status is None else f"{one.status:02X}: {decode.status_words(one.status)}"
    return "; ".join(x for x in (one.code.words, one.unit, one.memory, one.note, status) if x)


def _unread(read: Pasted) -> tuple[str, ...]:
    count = len(read.unread)
    return (f"{count} part{'s' if count > 1 else ''} could not be read.",) if count else ()


def _battery(inputs: Inputs) -> Calculated:
    written = str(inputs["marking"])
    read = decode.read_battery(written, place="marking")
    said = ", ".join(f"{name.lower()} {text}" for name, text in read.facts[:2])
    return Calculated(
        said=f"{written}: {said}.",
        lines=read.facts,
        formula="digits as the standard sets them",
        put_in=(("marking", written),),
        source="EN 50342-1 type number (secondary); IEC 60086-1 and -2 coin cells (from memory)",
        warnings=(
            "Fit only what the machine's manual names; the marking does not tell size and pole.",
        ),
    )


CALCULATORS: tuple[Calculator, ...] = (
    Calculator(
        name="identification-number",
        title="Identification number",
        text="Check digit, country, model year, and what was probably mistyped.",
        asked=(Asked("number", "Number on the frame", "words", "1M8GDM9AXKP042788"),),
        calculate=_identification,
        also=("VIN", "frame number", "chassis number", "model year"),
    ),
    Calculator(
        name="trouble-codes",
        title="Trouble codes",
        text="What the reader shows, as text, table or bytes; what cannot be read is shown, too.",
        asked=(Asked("shown", "What the reader shows", "lines", MIXED),),
        calculate=_codes,
        caution=CLEAR,
        also=("fault code", "error code", "DTC", "OBD", "warning lamp"),
    ),
    Calculator(
        name="codes-compared",
        title="Trouble codes before and after",
        text="Which are gone, which stayed, which are new, which returned.",
        asked=(
            Asked("before", "Before the work", "lines", "P0301\nC0123"),
            Asked("after", "After the work", "lines", "C0123\nU0100"),
            Asked("cleared", "Cleared in between", "choice", "no", ("yes", "no"), optional=True),
        ),
        calculate=_compared,
        caution=CLEAR,
        also=("fault code", "error code", "DTC", "cleared"),
    ),
    Calculator(
        name="battery-marking",
        title="Battery marking",
        text="A starter battery's nine-digit type number, or the coin cell of a fob.",
        asked=(Asked("marking", "Marking", "words", "CR2032"),),
        calculate=_battery,
        also=("key fob", "remote"),
    ),
)
