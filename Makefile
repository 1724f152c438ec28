# make demo              makes the demo part and splits it into build/demo/pieces
# make test [HOST=5.2]   runs the tests on Blender 4.5 LTS (the default) or 5.2
#           [SHARE=1/3]  only so many of those that need no Blender (see tests/conftest.py)
# make test-core, test-blender   the one half of it and the other
# make test-window [SUITE=sid] [SCENARIO=NAME]   plays the scenarios of tests/window in a real window
# make lint              style and types
# make install           only makes the virtual environment that `make test` runs in
# make find-python       tells which Python that would be made with
# Each makes the virtual environment that it needs, once, and again when pyproject.toml changes.

SHELL := bash
.SHELLFLAGS := -euo pipefail -c
.DELETE_ON_ERROR:
.PHONY: demo test test-core test-blender test-window lint install find-python

HOST := 4.5
ifeq ($(HOST),4.5)
venv := .venv
series := 3.11
else ifeq ($(HOST),5.2)
venv := .venv-5.2
series := 3.13
else
$(error found HOST=$(HOST); needed: 4.5 or 5.2; try: make test HOST=5.2)
endif

# Blender 4.5 can hang when it ends, so whatever imports it has a time limit, in seconds.
limit = $(if $(shell command -v timeout),timeout --kill-after=10 $(1))

# The first python$(1) that runs: the one on PATH, else one that pyenv keeps.
find_python = $(firstword $(foreach python,\
  python$(1) $(wildcard $(HOME)/.pyenv/versions/$(1)*/bin/python$(1)),\
  $(if $(shell $(python) --version 2>/dev/null),$(python))))

# make_venv FOLDER SERIES EXTRA: a fresh virtual environment with this project and its extra
define make_venv
	@if [ -z "$(call find_python,$(2))" ]; then \
	  echo "found: no python$(2) on PATH or in ~/.pyenv/versions; needed: Python $(2)" >&2; exit 1; \
	fi
	$(call find_python,$(2)) -m venv $(1)
	$(call limit,900) $(1)/bin/python -m pip install --quiet --disable-pip-version-check \
	  --editable '.[$(3)]'
endef

demo: $(venv)/.ready
	$(venv)/bin/python tests/demo/make_part.py build/demo/reach-pipe.stl
	$(call limit,300) $(venv)/bin/python -m borewright split build/demo/reach-pipe.stl \
	  --envelope 210x210x200 --out build/demo/pieces --overwrite

test: test-core test-blender

test-core: $(venv)/.ready
	BOREWRIGHT_SHARE=$(SHARE) $(call limit,2400) $(venv)/bin/python -m pytest -q tests --ignore tests/blender

test-blender: $(venv)/.ready
	$(call limit,900) $(venv)/bin/python -m pytest -q tests/blender

# Debian's suite that the windowed Blender is from: trixie has 4.3, sid 5.2.
SUITE := trixie
SCENARIO :=

test-window: $(venv)/.ready
	$(venv)/bin/python tests/demo/make_part.py build/demo/reach-pipe.stl
	tests/window/run $(SUITE) build/demo/reach-pipe.stl $(SCENARIO)

find-python:
	@echo "$(call find_python,$(series))" | grep .

lint: .venv-lint/.ready
	.venv-lint/bin/ruff check .
	.venv-lint/bin/ruff format --check .
	MYPYPATH=.venv-lint/source .venv-lint/bin/mypy

install: $(venv)/.ready

$(venv)/.ready: pyproject.toml
	$(call make_venv,$(venv),$(series),test)
	@if ! $(call limit,120) $(venv)/bin/python -c 'import bpy'; then \
	  .ci/libraries && echo "found: Blender's module does not import, though its libraries are there" >&2; \
	  exit 1; \
	fi
	touch $@

.venv-lint/.ready: pyproject.toml
	$(call make_venv,.venv-lint,3.11,lint)
	mkdir -p .venv-lint/source && ln -sfn ../.. .venv-lint/source/borewright
	touch $@
