"""A tree in words: one line down, branches where a reading decides, and its figures."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from witnessmark.planner.problem.tree import Outcome, Stretch, Tree


def tree_in_words(tree: Tree, texts: Mapping[str, str] | None = None) -> str:
    """The whole tree, line by line, and what is proven of it; ``texts``: words for steps and unknowns."""
    texts = texts or {}
    return "\n".join([*_lines(tree.first, "", texts), "", *_figures(tree, texts)])


def answers_in_words(answers: Mapping[str, bool], texts: Mapping[str, str] | None = None) -> str:
    """Example: ``chain slack: yes, pads worn: no``."""
    named = texts or {}
    return ", ".join(
        f"{named.get(name, name)}: {'yes' if yes else 'no'}" for name, yes in answers.items()
    )


def _lines(stretch: Stretch, indent: str, texts: Mapping[str, str]) -> Iterator[str]:
    for step in stretch.steps:
        tail = f" (unattended till {step.tail_end:.1f})" if step.tail_end > step.end else ""
        yield f"{indent}{step.start:7.1f} {step.end:7.1f}  {texts.get(step.name, step.name)}{tail}"
    for branch in stretch.branches:
        then = branch.then
        yield (
            f"{indent}- {answers_in_words(branch.answers, texts)} ({_percent(branch.probability)}): "
            f"{_span(then.least_minutes, then.most_minutes)} min of labour from here, "
            f"{then.expected_minutes:.1f} expected"
        )
        yield from _lines(then, indent + "  ", texts)


def _figures(tree: Tree, texts: Mapping[str, str]) -> Iterator[str]:
    if tree.how == "likeliest":
        yield (
            f"The plan of the likeliest answers ({_percent(tree.least.probability)}): "
            f"finished at {tree.expected_finish_minutes:g} min, {tree.expected_attended_minutes:g} min of labour. "
            "Several technicians or machines are planned, so the readings' branches are priced and not planned."
        )
        for other in tree.alternatives:
            yield (
                f"{answers_in_words(other.answers, texts)} ({_percent(other.probability)}): "
                f"{other.attended_minutes:+g} min of labour, {other.finish_minutes:+g} min to the finish"
            )
        return
    yield (
        f"Expected: {tree.expected_attended_minutes:.1f} min of labour, finished at "
        f"{tree.expected_finish_minutes:.1f} min; " + _proof(tree)
    )
    yield f"Least: {_outcome(tree.least, texts)}"
    yield f"Most: {_outcome(tree.worst, texts)}"
    for name, minutes in tree.worth.items():
        if minutes:
            yield f"To know at the door of {texts.get(name, name)} would save {minutes:.1f} min."
    if tree.worth and not any(tree.worth.values()):
        yield "To know any answer at the door would save nothing."


def _proof(tree: Tree) -> str:
    of = "in the worst visit " if tree.objective == "worst" else ""
    if tree.status == "optimal":
        return f"{of}no more than somebody who knew all answers, so proven the least."
    return (
        f"{of}at most {tree.gap_minutes:.1f} min more than somebody who knew all answers "
        f"({tree.bound_minutes:.1f} min)."
    )


def _outcome(outcome: Outcome, texts: Mapping[str, str]) -> str:
    answers = answers_in_words(outcome.answers, texts)
    told = f", as with {answers}" if answers else ""
    return f"{outcome.attended_minutes:g} min of labour ({_percent(outcome.probability)}){told}"


def _span(least: float, most: float) -> str:
    return f"{least:.1f}" if least == most else f"{least:.1f} to {most:.1f}"


def _percent(probability: float) -> str:
    percent = 100 * probability
    return f"{percent:.0f} %" if percent >= 1 or not percent else f"{percent:.1g} %"
