"""Which bottle of the shelf a machine allows, and why another is refused, in words."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from witnessmark.fluids import brake, clutch, grades
from witnessmark.fluids.volume import FluidError

if TYPE_CHECKING:  # a calculation waits for no book
    from witnessmark.book.model import Book

Standing = Literal["allowed", "not known", "refused", "never"]
_BRAKES: dict[str, brake.Base] = {
    "glycol brake fluid": "glycol",
    "silicone brake fluid": "silicone",
    "mineral clutch oil": "mineral",
}
HYDRAULIC = tuple(_BRAKES)
# "not DOT 5.1" excludes it; "not lower than DOT 4" does not
_EXCLUDED = re.compile(
    r"\b(?:not|no|never|nor)\b(?! +(?:lower|less|worse|older|below|under)\b)(?P<what>(?:[^,;().]|\.(?=\d))*)",
    re.IGNORECASE,
)
_ENGINE_CLASS = re.compile(
    r"\bS[A-Z]\b|\b(?:mineral|(?:semi|part(?:ly)?)[- ]?synthetic|synthetic)\b", re.IGNORECASE
)


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a machine asks for: the family, the words of the book's grade (None: missing), a wet clutch."""

    family: str
    grade: str | None = None
    wet_clutch: bool = False


@dataclass(frozen=True, slots=True)
class Bottle:
    """A pack as the shelf has it: family, and what its label says."""

    family: str
    grade: str = ""
    rating: str = ""

    @property
    def label(self) -> str:
        """Everything the label says."""
        return ", ".join(part for part in (self.grade.strip(), self.rating.strip()) if part)


@dataclass(frozen=True, slots=True)
class BottleFit:
    """How a bottle stands: allowed; not known (look at its label); refused, used only for a reason
    that is named; never, for no reason at all. ``why``: the reasons in words.
    """

    standing: Standing
    why: tuple[str, ...] = ()

    @property
    def offered(self) -> bool:
        """Whether it may be poured without a reason."""
        return self.standing in ("allowed", "not known")

    @property
    def words(self) -> str:
        """Example: ``refused: no clutch rating on it: the clutch may slip``."""
        return f"{self.standing}: {'; '.join(self.why)}" if self.why else self.standing


def wanted(book: Book, fluid: str) -> Wanted:
    """What a book asks for of one of its fluids."""
    asked = book.fluids[fluid]
    figure = book.figures.get(asked.grade or "")
    return Wanted(asked.family, figure.value if figure else None, asked.wet_clutch)


def judge(wanted: Wanted, bottle: Bottle) -> BottleFit:
    """Compare a bottle with what the machine asks for. Never raises: what cannot be read is said."""
    if bottle.family != wanted.family:
        return BottleFit("never", (_other_family(wanted.family, bottle.family),))
    if not bottle.label:
        return BottleFit("not known", (_look(wanted),))
    try:
        never = tuple(_other_base(wanted, bottle))
        refused = tuple(_refused(wanted, bottle))
    except FluidError as error:
        return BottleFit("not known", (f"{error.problem}; {error.expected}",))
    if never:
        return BottleFit("never", never)
    if refused:
        return BottleFit("refused", refused)
    unknown = tuple(_unknown(wanted, bottle))
    return (
        BottleFit("not known", unknown)
        if unknown
        else BottleFit("allowed", tuple(_notes(wanted, bottle)))
    )


def faults(bottle: Bottle) -> tuple[str, ...]:
    """What is odd about a bottle as written on the shelf list: bad grades, a class of another base."""
    found: list[str] = []
    for read in (grades.grades_in, clutch.printed, brake.classes_in):
        try:
            read(bottle.label)
        except FluidError as error:
            found.append(f"{error.problem}; {error.expected}")
    if not found:
        found += _contradictions(bottle)
    return tuple(found)


# ---------------------------------------------------------------- parts of a verdict


def _other_family(wanted: str, has: str) -> str:
    if wanted in _BRAKES and has in _BRAKES:
        reason = brake.never_into(_BRAKES[wanted], _BRAKES[has])
        assert reason is not None
        return reason
    return f"{has}, and this takes {wanted}"


def _other_base(wanted: Wanted, bottle: Bottle) -> Iterator[str]:
    """A label of another base than its family: DOT 5 listed as glycol."""
    if wanted.family in _BRAKES and (base := brake.base_in(bottle.label)):
        reason = brake.never_into(_BRAKES[wanted.family], base)
        if reason:
            yield f"{bottle.label}: {reason}"


def _refused(wanted: Wanted, bottle: Bottle) -> Iterator[str]:
    if excluded := tuple(_excluded(wanted, bottle)):
        yield from excluded
        return
    asked = _asked(wanted)
    if wanted.family in _BRAKES:
        yield from brake.why_not(asked, bottle.label)
        return
    yield from _sae_refused(asked, bottle.label)
    if _wet(wanted) and (reason := clutch.why_not_wet(bottle.label, asked)):
        yield reason
    classes, has = grades.gear_classes_in(asked), grades.gear_classes_in(bottle.label)
    if classes and has and not set(classes) & set(has):
        yield f"API {' and '.join(has)}, and the book asks for API {' or '.join(classes)}"
    if wanted.family == "coolant":
        yield from _coolant_refused(asked, bottle.label)


def _asked(wanted: Wanted) -> str:
    """The words of the book, less what it excludes."""
    return _EXCLUDED.sub("", wanted.grade or "")


def _excluded(wanted: Wanted, bottle: Bottle) -> Iterator[str]:
    """What the book says may not be used, and the label names: GL-4 (not GL-5)."""
    book = " ".join(hit["what"] for hit in _EXCLUDED.finditer(wanted.grade or ""))
    has = _named(bottle.label)
    for one in _named(book):
        if one in has:
            yield f"{one}, which the book excludes"


def _named(text: str) -> list[str]:
    return [
        *brake.classes_in(text),
        *(f"JASO {rating}" for rating in clutch.printed(text).ratings),
        *(f"API {one}" for one in grades.gear_classes_in(text)),
        *(one.words for one in grades.grades_in(text)),
    ]


def _wet(wanted: Wanted) -> bool:
    """Whether the oil runs in a clutch: the book says so, or its grade asks for a rating."""
    asked = clutch.printed(_asked(wanted))
    return wanted.wet_clutch or asked.by_words or bool(set(asked.ratings) & set(clutch.WET))


def _sae_refused(asked: str, label: str) -> Iterator[str]:
    wants, has = grades.grades_in(asked), grades.grades_in(label)
    if wants and has and not set(wants) & set(has):
        allows = " or ".join(one.words for one in wants)
        yield f"{' and '.join(one.words for one in has)}, and the book allows {allows}"


def _coolant_refused(asked: str, label: str) -> Iterator[str]:
    kinds = ("ethylene", "propylene")
    wants = [kind for kind in kinds if kind in asked.casefold()]
    has = [kind for kind in kinds if kind in label.casefold()]
    if wants and has and not set(wants) & set(has):
        yield f"{has[0]} glycol, and the book asks for {wants[0]} glycol"


def _unknown(wanted: Wanted, bottle: Bottle) -> Iterator[str]:
    if wanted.grade is None or not bottle.grade:
        yield _look(wanted)
    elif not _comparable(wanted, bottle):
        yield f"it says “{bottle.grade}”, the book “{wanted.grade}”: compare them yourself"


def _look(wanted: Wanted) -> str:
    if wanted.grade is None:
        return "the book's grade is missing: look it up in the manual"
    return f"its grade is not on the shelf list: look at the label for {wanted.grade}"


def _comparable(wanted: Wanted, bottle: Bottle) -> bool:
    """Whether both name something that was compared, or the same words."""
    asked = _asked(wanted)
    if asked.casefold() == bottle.grade.casefold():
        return True
    if wanted.family in _BRAKES:
        return bool(brake.classes_in(asked) and brake.classes_in(bottle.label))
    if wanted.family == "coolant":
        return False
    return bool(grades.grades_in(asked) and grades.grades_in(bottle.label))


def _notes(wanted: Wanted, bottle: Bottle) -> Iterator[str]:
    asked = {hit.upper(): hit for hit in _ENGINE_CLASS.findall(_asked(wanted))}
    has = _ENGINE_CLASS.findall(bottle.label.upper())
    left = [written for one, written in asked.items() if one not in has]
    if wanted.family == "engine oil" and left:
        yield f"the book also says {' and '.join(left)}, which is not compared: look at the label"
    if wanted.family == "fork oil":
        yield "the W of a fork oil follows no standard: compare mm²/s at 40 °C before mixing two makes"


def _contradictions(bottle: Bottle) -> Iterator[str]:
    try:
        base = brake.base_in(bottle.label) if bottle.family in _BRAKES else None
    except FluidError as error:
        yield f"{error.problem}; {error.expected}"
        return
    if base and base != _BRAKES[bottle.family]:
        yield f"“{bottle.label}” is {base}, but it stands under {bottle.family}"
    named = grades.grades_in(bottle.label)
    standard = {"engine oil": "SAE J300", "gear oil": "SAE J306"}.get(bottle.family)
    both = {**grades.J300_COLD, **grades.J300_WARM}
    for one in named:
        fits_both = (
            one.standard == "SAE J300" and standard == "SAE J306" and (one.cold or one.warm) in both
        )
        if standard and one.standard != standard and not fits_both:
            yield f"{one.words} is a grade of {one.standard}, but it stands under {bottle.family}"
