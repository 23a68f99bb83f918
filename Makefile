# One environment, .venv, built from requirements.lock; every target builds it first when it is missing or out of date.

BIN := .venv/bin
STAMP := .venv/.built
# The first interpreter that is there and is new enough (a name on the path may be a shim for nothing).
PYTHON ?= $(shell for name in python3.11 python3; do \
	$$name -c 'import sys; sys.exit(sys.version_info < (3, 11))' >/dev/null 2>&1 && { echo $$name; break; }; done)

.PHONY: help demo gaps hall pieces sections atlas schemes test lint bench tutorial docs results certificates clean venv
.DEFAULT_GOAL := help

help:
	@echo 'make demo   propose layouts for specs/three-kilns.toml, with their build sheets, into build/demo'
	@echo 'make hall   build and confirm the brickyard of specs/sixteen-kilns.toml, run a shift in it, into build/hall'
	@echo 'make test   lint, then every test (the slow ones too)'
	@echo 'make lint   ruff and mypy --strict'
	@echo 'make bench  run the benchmarks'
	@echo 'make gaps          look for builds smaller than the best known ones without the model (docs/gaps.md)'
	@echo 'make results       search the smallest builds for docs/results.md (an hour; goes on from build/results)'
	@echo 'make sections      settle the cross-sections of halls anew (docs/halls.md, specs/pieces/sections.json)'
	@echo 'make pieces        solve the pieces of halls anew, into specs/pieces/default.json (some minutes)'
	@echo 'make atlas         add builds that are missing to specs/atlas (an hour; what is there stays)'
	@echo 'make schemes       the smallest known builds of all schemes side by side, into docs/schemes.md (minutes)'
	@echo 'make certificates  confirm every box ruled out there with other solvers and proof checkers'
	@echo 'make tutorial      run docs/tutorial.md and docs/howto, refresh their outputs and pictures'
	@echo 'make docs   build the documentation into build/docs, to be read offline'
	@echo 'make venv   only build .venv'
	@echo 'make clean  remove build results and caches (.venv stays)'

venv: $(STAMP)
	@:

$(STAMP): requirements.lock pyproject.toml
	@test -n '$(PYTHON)' || { echo 'make: no Python 3.11 or newer found; install one or name it: make PYTHON=/path/to/python3' >&2; exit 1; }
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null \
		|| { echo 'make: $(PYTHON) is not Python 3.11 or newer' >&2; exit 1; }
	@echo 'building .venv from requirements.lock (once, a minute or two)'
	@rm -rf .venv
	@$(PYTHON) -m venv .venv
	@$(BIN)/python -m pip -qq --disable-pip-version-check install --require-hashes -r requirements.lock
	@$(BIN)/python -m pip -qq --disable-pip-version-check install --no-deps --no-build-isolation -e .
	@touch $@

demo: $(STAMP)
	@$(BIN)/splitwright propose specs/three-kilns.toml --time-limit 15 --out build/demo --sheets

# The pieces of its rows come with the clone.
hall: $(STAMP)
	@$(BIN)/splitwright propose specs/sixteen-kilns.toml --out build/hall --sheets
	@$(BIN)/splitwright shift build/hall/layout-1.plan

pieces: $(STAMP)
	@rm -f specs/pieces/default.json
	@$(BIN)/splitwright propose specs/sixteen-kilns.toml --pieces specs/pieces/default.json --time-limit 600
	@$(BIN)/splitwright propose specs/hall-one-input.toml --pieces specs/pieces/default.json --time-limit 600
	@$(BIN)/splitwright propose specs/kilns-in-one-row.toml --pieces specs/pieces/default.json --time-limit 300

sections: $(STAMP)
	@$(BIN)/python docs/make_sections.py

atlas: $(STAMP)
	@$(BIN)/python docs/make_atlas.py

lint: $(STAMP)
	@$(BIN)/ruff check --quiet --output-format concise .
	@$(BIN)/mypy --strict --no-error-summary sim synth splitwright

test: lint
	@$(BIN)/python -m pytest --no-header -n 2 --dist worksteal

bench: $(STAMP)
	@$(BIN)/python -m benchmarks

# The tutorial's outputs and pictures, made by its own commands.
tutorial: $(STAMP)
	@$(BIN)/python docs/make_tutorial.py

# The documentation as a site; its reference pages are made from commands and schemas. Warnings are errors.
docs: $(STAMP)
	@$(BIN)/sphinx-build -q -W --keep-going -c docs/site -d build/docs-trees docs build/docs
	@echo 'build/docs/index.html'

schemes: $(STAMP)
	@$(BIN)/python docs/make_schemes.py

gaps: $(STAMP)
	@$(BIN)/python docs/look_for_gaps.py

results: $(STAMP)
	@$(BIN)/python docs/make_results.py
	@$(BIN)/python docs/results_page.py

certificates: $(STAMP)
	@$(BIN)/python docs/make_certificates.py
	@$(BIN)/python docs/results_page.py

clean:
	@rm -rf build dist .pytest_cache .mypy_cache .ruff_cache .hypothesis
	@find . -name __pycache__ -not -path './.venv/*' -prune -exec rm -rf {} +
