"""The figures sheet: a new book, built from blocks or extending another, with every figure of it to fill in."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from witnessmark.book.build import build_lines
from witnessmark.book.document import quoted
from witnessmark.book.figures import figure_state, figures_applied, figures_used
from witnessmark.book.model import Book, Figure
from witnessmark.book.rules import RULES, answered
from witnessmark.book.select import steps
from witnessmark.units import Quantity

KINDS: dict[Quantity, str] = {
    "torque": "a torque with its unit, in N·m, kgf·m or lbf·ft",
    "volume": "a volume with its unit, in L, mL or US qt",
    "length": "a length with its unit, in mm or in",
    "pressure": "a pressure with its unit, in bar, kPa or psi",
    "distance": "a distance with its unit, in km or mi",
    "duration": "a time with its unit, in months, years, weeks or days",
    "voltage": "a voltage with its unit, in V",
    "current": "a current with its unit, in A or mA",
    "charge": "a battery's charge with its unit, in Ah",
    "resistance": "a resistance with its unit, in Ω or kΩ",
    "angle": "an angle with its unit, in ° or turns",
    "rotation": "a speed of rotation with its unit, in rpm",
    "temperature": "a temperature with its unit, in °C or °F",
    "mass": "a mass with its unit, in g or kg",
    "force": "a force with its unit, in N, kN or lbf",
    "speed": "a speed with its unit, in km/h or mph",
    "power": "a power with its unit, in kW, PS or hp (mechanical)",
    "consumption": "a consumption with its unit, in L/100 km, US mpg or imp mpg",
    "count": "a whole number",
    "words": "words, as the document says it",
}

_HOW_TO = """\
# Figures sheet for a new model{base}.
#
# Write between the quotes what the owner's or workshop manual of this very machine says.
#   value   as the document gives it, with its unit: "24 months" or "2 years". Leave it empty where
#           you do not know: an empty figure is missing, and says so wherever it is needed.
#   source  document, edition and page: "Workshop manual, 2nd edition, page 214". A figure without
#           a source is unproven: it is shown as such, and work that rests on it cannot be handed
#           back. Another machine's manual, a table of usual values or somebody's memory is none.
# Where it helps, add to a figure:
#   tolerance = "…"  either side of the value, with its unit or in %
#   low = "…" and high = "…"  in place of a value, where the document gives a range
#   checked = {{ by = "your name", on = 2026-01-31 }}  when you compared it with the document
#
# Then run:  witnessmark book check THIS_FILE    (is it well formed?)
#            witnessmark book figures THIS_FILE  (what is still missing?)
"""


def figures_sheet(
    book: Book,
    *,
    extends: str | None = None,
    build: Mapping[str, Mapping[str, str]] | None = None,
    name: str = "new_model",
    maker: str = "",
    model: str = "",
    years: str = "",
) -> str:
    """TOML text of a book `name` with every figure of `book` to fill in.

    `extends` is how the new file names `book`: an archetype's name, or a path. `build`: what the new file
    chooses itself. Without either it extends `book` by its name. Figures stand under the job that first uses
    them; those `book` has a value for are there as comments.
    """
    base = book.name if extends is None and build is None else extends
    head = _HOW_TO.format(base=f'. It builds on the book "{base}"' if base else "").splitlines()
    text = "\n".join([*head, "", new_book(name, maker, model, years, extends=base, build=build)])
    lines = []
    for heading, figures in figure_groups(book):
        lines += ["", f"# {'-' * 20} {_one_line(heading)}"]
        for figure in figures:
            lines += ["", *_entry(book, figure)]
    lines += _answers(book)
    return text + "".join(f"{line}\n" for line in lines)


def new_book(
    name: str,
    maker: str,
    model: str,
    years: str = "",
    *,
    extends: str | None = None,
    build: Mapping[str, Mapping[str, str]] | None = None,
) -> str:
    """TOML text of a book without a figure: what it is called, what it extends, and how it is built."""
    title = f"{maker} {model}".strip()
    lines = ["format = 1", f"name = {quoted(name)}"]
    lines += [f"title = {quoted(title)}  # as you call it in the workshop"]
    lines += [f"extends = {quoted(extends)}"] if extends else []
    lines += ["", "[build]", *build_lines(build)] if build else []
    lines += ["", "[machine]", f"maker = {quoted(maker)}", f"model = {quoted(model)}"]
    return "\n".join([*lines, f"years = {quoted(years)}"]) + "\n"


def figure_groups(book: Book) -> Iterator[tuple[str, list[str]]]:
    """The figures under the first job that uses them: jobs of services first, the idle ones last."""
    left = dict.fromkeys(book.figures)
    in_services = [job for service in book.services.values() for job in service.jobs]
    for job in dict.fromkeys([*in_services, *book.jobs]):
        used = [use.id for use in figures_used(book, [job]) if use.id in left]
        for figure in used:
            del left[figure]
        if used:
            yield book.jobs[job].text, used
    if left:
        yield "Not used by any job", list(left)


def _entry(book: Book, name: str) -> Iterator[str]:
    figure = book.figures[name]
    yield f"# {_one_line(figure.text)}"
    yield f"#   write: {KINDS[figure.quantity]}"
    yield from (f"#   for: {_one_line(users)}" for users in figure_users(book, name))
    if figure.note:
        yield f"#   {_one_line(figure.note)}"
    yield f"[figures.{name}]"
    if figure_state(figure) == "missing":
        yield from (f'{key} = ""' for key in to_fill_in(book, name))
        yield 'source = ""'
    else:
        yield from (f"# {line}" for line in _as_written(figure))


def _answers(book: Book) -> Iterator[str]:
    """The rules of the trade that the book breaks, with its reasons, as comments."""
    for name, answer in answered(book, book.jobs).items():
        yield from ("", f"# Rule {name}: {RULES[name].holds}")
        yield f"#   the book departs from it, says {_one_line(answer.by)}: {_one_line(answer.because)}"


def to_fill_in(book: Book, name: str) -> tuple[str, ...]:
    """What of a figure the document gives: a range where some reading is bounded by it at both ends, else one value."""
    ranged = any(r.low == name and r.high == name for r in book.readings.values())
    return ("low", "high") if ranged else ("value",)


def _as_written(figure: Figure) -> Iterator[str]:
    for key in ("value", "low", "high", "tolerance", "source"):
        text = getattr(figure, key)
        if text is not None:
            yield f"{key} = {quoted(text)}"


def figure_users(book: Book, name: str) -> Iterator[str]:
    """What a figure is for: the steps that work to it, intervals, and the readings it bounds."""
    texts = [step.text for step in steps(book).values() if name in figures_applied(book, step)]
    if texts:
        yield _some(dict.fromkeys(texts))
    jobs = [j.text for j in book.jobs.values() if name in (j.every_distance, j.every_time)]
    if jobs:
        yield f"how often: {_some(dict.fromkeys(jobs))}"
    for reading in book.readings.values():
        bounds = [w for w, f in (("least", reading.low), ("most", reading.high)) if f == name]
        if bounds:
            yield f"the {' and the '.join(bounds)} allowed of: {reading.text}"


def _some(texts: Iterable[str], most: int = 4) -> str:
    texts = list(texts)
    return "; ".join(texts[:most]) + (f"; and {len(texts) - most} more" if texts[most:] else "")


def _one_line(text: str) -> str:
    return " ".join(text.split())
