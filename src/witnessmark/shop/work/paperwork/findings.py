"""What was found, and how it was answered, as a paper says it."""

from __future__ import annotations

from django.utils.translation import gettext as _

from witnessmark.ledger.bodies import Answered, Done, JobTaken, Settled, Skipped, Wont
from witnessmark.ledger.entry import Entry
from witnessmark.ledger.state import Finding
from witnessmark.shop.work.codes import STILL, still_there
from witnessmark.shop.work.paperwork.language_and_heading import Pen
from witnessmark.shop.work.visit import Work


def finding_of(pen: Pen, entry: str) -> Finding | None:
    """The finding that an entry made."""
    return next((one for one in pen.work.state.findings if one.entry == entry), None)


def finding_words(pen: Pen, finding: Finding) -> str:
    """What was found: as it was typed; of a step that would not go, which, how and what is safe now."""
    said = next((e.said for e in pen.work.entries if e.id == finding.entry), None)
    if isinstance(said, Wont):
        step = pen.work.steps.get(said.step)
        text = pen.chosen(said.what) + (f": {said.text}" if said.text else "")
        safe = _("safe now: {words}").format(words=said.safe_now)
        text = f"{text} ({safe})"
        return f"{step.text}: {text}" if step else text
    codes = still_there(pen.work).get(finding.text)
    return pen.chosen(STILL).format(codes=codes) if codes else finding.text


def answer_words(pen: Pen, finding: Finding) -> str:
    """How a finding was answered last."""
    if declined_in(pen.work, finding):
        return _("told and declined")
    for entry in reversed(pen.work.standing) if finding.settled else ():
        if said := _answer(pen, finding, entry):
            return said
    return _("no answer yet")


def declined_in(work: Work, finding: Finding) -> Entry | None:
    """The entry by which the owner was told and declined, where that is the newest answer.

    One that concerns safety stays open all the same, so `Finding.settled` does not say it.
    """
    declined = None
    for entry in work.standing:
        match entry.said:
            case Settled() as said if said.entry == finding.entry:
                declined = entry if said.how == "told and declined" else None
            case Answered() as said if said.finding == finding.entry:
                declined = entry if said.verdict == "no" else None
            case JobTaken() as said if said.finding == finding.entry:
                declined = None
            case Done() | Skipped() as said if (
                finding.kind == "cannot be done" and said.step == finding.step
            ):
                declined = None
            case _:
                pass
    return declined


def _answer(pen: Pen, finding: Finding, entry: Entry) -> str:
    """What an entry answers to a finding; empty where it answers nothing."""
    said = entry.said
    words = ""
    if isinstance(said, Settled) and said.entry == finding.entry:
        words = pen.chosen(said.how)
    elif isinstance(said, JobTaken) and said.finding == finding.entry:
        words = _("booked as {job}").format(job=_line(pen, said.job))
    elif isinstance(said, Answered) and said.finding == finding.entry:
        agreed = _("agreed: {line}").format(line=_line(pen, said.line))
        words = agreed if said.verdict == "yes" else _("told and declined")
    elif finding.kind != "cannot be done":
        pass
    elif isinstance(said, Done) and finding.step in (said.step, *said.along):
        words = _("done after all")
    elif isinstance(said, Skipped) and finding.step == said.step:
        words = _("not done: {why}").format(why=said.reason)
    return words


def _line(pen: Pen, name: str) -> str:
    job = pen.work.jobs.get(name)
    return job.text if job else _("a line of the estimate")
