"""Published scheduling cases with known optima: sources in `data/README.md`."""

import pytest

from benchmarks.scheduling import job_shop, job_shops, project, published
from witnessmark.planner import plan, problem_from

HARD = "j3013_2"  # half a minute of proof
PROJECTS = published()
THIRTY = [name for name in PROJECTS if name.startswith("j30")]
SIXTY = [name for name in PROJECTS if name.startswith("j60")]


@pytest.mark.parametrize(
    "name", [pytest.param(n, marks=pytest.mark.long) if n == HARD else n for n in THIRTY]
)
def test_a_project_of_thirty_activities_is_proven_at_its_published_optimum(name):
    answer = plan(problem_from(project(name)), deterministic_limit=60)
    assert answer.status == "optimal"
    assert answer.finish_minutes == int(PROJECTS[name]["upper_bound"])


@pytest.mark.parametrize("name", SIXTY)
def test_no_bound_of_ours_contradicts_a_published_finish(name):
    """Sixty activities, a short search: what is claimed must not exclude the best known schedule."""
    answer = plan(problem_from(project(name)), deterministic_limit=0.5)
    assert answer.finish_bound <= int(PROJECTS[name]["upper_bound"])
    assert answer.finish_minutes >= int(PROJECTS[name]["lower_bound"])


@pytest.mark.parametrize("name", [n for n in job_shops() if n != "ft10"])
def test_a_job_shop_is_proven_at_its_published_optimum(name):
    case = job_shops()[name]
    answer = plan(problem_from(job_shop(case["jobs"])), deterministic_limit=10)
    assert (answer.status, answer.finish_minutes) == ("optimal", case["optimum"])


@pytest.mark.long
def test_the_job_shop_of_ten_machines_is_proven_at_930_minutes():
    """Ft10 stood open for a quarter of a century."""
    answer = plan(problem_from(job_shop(job_shops()["ft10"]["jobs"])), deterministic_limit=60)
    assert (answer.status, answer.finish_minutes) == ("optimal", 930)
