# A developer's day. `make` alone lists it; CONTRIBUTING.md tells the rest.

PYTHON ?= python3
PORT   ?= 8000
BIN    := .venv/bin
PYTEST := $(BIN)/python -m pytest
# one process per core, a file's tests together: what they prepare is prepared once; in the order collected
SHARED := -n auto --maxprocesses 4 --dist loadfile --no-loadscope-reorder
export UV_PYTHON_DOWNLOADS := never

# The demo's data and the tests' live in their own folders, away from a workshop's real ones.
demo: export WITNESSMARK_HOME ?= var/demo
test test-long: export WITNESSMARK_HOME := test-results/home

.NOTPARALLEL:
.PHONY: help setup parts runtime demo test test-long check fix bench screenshots lock clean

help: ## list these commands
	@awk -F ':.*## ' '/^[a-z-]+:.*## / { printf "make %-12s %s\n", $$1, $$2 }' Makefile

setup: ## make .venv with all that development needs (done by the others when needed)
	@$(PYTHON) scripts/set_up.py test

parts:
	@$(PYTHON) scripts/system_parts.py

runtime:
	@$(PYTHON) scripts/set_up.py runtime

demo: runtime ## today's plan for one machine, then the invented workshop on localhost:8000 (PORT=)
	@$(BIN)/witnessmark demo build
	@$(BIN)/witnessmark demo plan
	@$(BIN)/witnessmark serve --port $(PORT)

test: parts setup ## every test but the long ones, on SQLite, then ledger, gates, money and browser on PostgreSQL
	env -u DATABASE_URL $(PYTEST) $(SHARED) -m "not long"
	$(BIN)/python scripts/with_postgres.py $(PYTEST) $(SHARED) -m "postgres and not long"

test-long: parts setup ## the tests that take minutes, more of them on PostgreSQL, and whether the others see a hundred small faults
	$(BIN)/python scripts/with_postgres.py $(PYTEST) -m "long or postgres_long"
	$(BIN)/python scripts/mutation_testing.py

check: setup ## read only: style, types, architecture, locks, no machine's paths
	$(BIN)/ruff check
	$(BIN)/ruff format --check
	$(BIN)/mypy
	$(BIN)/lint-imports
	$(BIN)/python scripts/check_text.py

fix: setup ## repair what the style check can repair
	$(BIN)/ruff check --fix
	$(BIN)/ruff format

bench: setup ## the planner against general planners and rules of thumb, the pages after years: ratios of one run
	PYTHONPATH=src $(BIN)/python -m benchmarks

screenshots: parts setup ## take the pictures of docs/pictures from the demo in a real browser
	$(BIN)/python scripts/tour.py

lock: ## write both locks anew from pyproject.toml (needs uv)
	$(PYTHON) scripts/lock.py

clean: ## remove .venv and caches; var/ (the workshop's data) stays
	rm -rf .venv .mypy_cache .ruff_cache .pytest_cache .hypothesis .import_linter_cache test-results
	find src tests scripts -name __pycache__ -prune -exec rm -rf {} +
