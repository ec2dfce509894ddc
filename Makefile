.PHONY: demo serve test bench lint lock clean
HOME_FOLDER ?= kestrel-narrows
DEMO_FLAGS ?=
# The ring's matrices are small: threads of the linear algebra library cost more than they bring, above all beside others.
export OPENBLAS_NUM_THREADS ?= 1
# The tests start the program more than a hundred times: what Python compiled once is kept, whatever the machine says.
unexport PYTHONDONTWRITEBYTECODE

# The main job on the embedded default: cards, import, judgement, release reports, then the running pages.
# Without the pages at the end: make demo DEMO_FLAGS=--no-serve
demo: .venv/ready-run
	.venv/bin/evenpull demo --home $(HOME_FOLDER) $(DEMO_FLAGS)

serve: .venv/ready-run
	EVENPULL_HOME=$(HOME_FOLDER) .venv/bin/evenpull serve

test: .venv/ready-all
	.venv/bin/python -m pytest -n 2 --dist loadfile

bench: .venv/ready-all
	.venv/bin/python -m bench

lint: .venv/ready-all
	.venv/bin/ruff check .
	.venv/bin/mypy
	.venv/bin/lint-imports

# After a change of dependencies in pyproject.toml.
lock:
	tools/lock

clean:
	rm -rf .venv build src/*.egg-info

.venv/ready-run: locks/run.txt pyproject.toml tools/setup
	@if [ -e .venv/ready-all ] && [ .venv/ready-all -nt locks/all.txt ]; then touch $@; else tools/setup run; fi

.venv/ready-all: locks/all.txt pyproject.toml tools/setup
	tools/setup all
