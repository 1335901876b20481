# Every target sets up .venv from the lock when it must; needs only Python 3.11+ and make.
PYTHON ?= python3
PY := .venv/bin/python
STAMP := .venv/.ready
SAMPLES := PYTHONPATH=sample_streams

.PHONY: setup demo test test-long check audit fuzz bench serve samples browser compiler lock openapi clean

setup: $(STAMP)

$(STAMP): requirements.lock pyproject.toml sdk/pyproject.toml
	$(PYTHON) -c 'import sys; sys.exit(None if sys.version_info >= (3, 11) else "Barwright needs Python 3.11 or newer: make PYTHON=/path/to/python3.11")'
	test -x $(PY) || $(PYTHON) -m venv .venv
	grep -A 40 '^uv==' requirements.lock | awk 'NR > 1 && /^[a-z]/ {exit} {print}' > .venv/uv.txt
	$(PY) -m pip install --quiet --require-hashes --no-deps -r .venv/uv.txt
	$(PY) -m uv pip sync --quiet --python $(PY) --require-hashes requirements.lock
	$(PY) -m uv pip install --quiet --python $(PY) --no-deps --no-build-isolation -e . -e ./sdk
	touch $(STAMP)

ifdef CHROMIUM
export CHROMIUM
endif

demo: $(STAMP)
	$(SAMPLES) $(PY) sample_streams/demo.py $(if $(ONCE),--once)

# More processes than cores: tests also wait for each other's disks, clocks and services.
PROCESSES ?= $(shell echo $$(( $$(nproc 2>/dev/null || echo 2) * 3 / 2 )))

test: check
	$(PY) -m pytest -n $(PROCESSES) --dist loadgroup -m "not long"

test-long: $(STAMP) browser compiler
	$(PY) -m pytest -n $(PROCESSES) --dist loadgroup -m long

# The tests of the coach's pages look at them in a real Chromium; Debian's is taken, no other one is fetched.
browser:
	@if test -n "$(CHROMIUM)" || command -v chromium > /dev/null; then true; \
	elif test "$$(id -u)" = 0 && command -v apt-get > /dev/null; then \
	  echo "no Chromium yet: apt-get install chromium"; \
	  apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends chromium > /dev/null; \
	else \
	  echo "The tests of the pages need Chromium. Install it (on Debian: sudo apt-get install chromium), or say which" >&2; \
	  echo "one to take: make test CHROMIUM=/path/to/chromium" >&2; exit 1; \
	fi

# The sender in C is compiled by its tests; Debian's compiler is taken.
compiler:
	@if command -v gcc > /dev/null || command -v cc > /dev/null; then true; \
	elif test "$$(id -u)" = 0 && command -v apt-get > /dev/null; then \
	  echo "no C compiler yet: apt-get install gcc"; \
	  apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends gcc libc6-dev > /dev/null; \
	else \
	  echo "The tests of the sender in C need a C compiler. Install one (on Debian: sudo apt-get install gcc libc6-dev)" >&2; exit 1; \
	fi

check: $(STAMP)
	$(PY) -m ruff check .
	$(PY) -m ruff format --check .
	$(PY) -m mypy
	.venv/bin/lint-imports
	$(PY) .ci/audit.py

# Known vulnerabilities of the packages in the lock; says so where the advisories cannot be reached.
audit: $(STAMP)
	$(PY) .ci/audit.py

fuzz: $(STAMP)
	PYTHONPATH=sample_streams:tests $(PY) -m fuzz $(ARGS)
	PYTHONPATH=sample_streams:tests $(PY) -m fuzz.any_requests

bench: $(STAMP)
	PYTHONPATH=sample_streams:tests $(PY) -m bench $(ARGS)

serve: $(STAMP)
	$(PY) -m barwright serve --data data

samples: $(STAMP)
	$(SAMPLES) $(PY) -m make_samples

# Rewrites the two pages that are made from the code; tests fail when they are not current.
openapi: $(STAMP)
	$(PY) -m barwright openapi > docs/openapi.json
	$(PY) -c 'from barwright.api.problem_page import problem_page; print(problem_page(), end="")' > docs/problems.md

# Rewrites the lock from pyproject.toml; commit the result.
lock: $(STAMP)
	$(PY) -m uv pip compile --quiet --universal --python-version 3.11 --generate-hashes --no-emit-index-url --no-annotate \
	  --all-extras --group dev pyproject.toml sdk/pyproject.toml -o requirements.lock --no-header

clean:
	rm -rf .venv build .mypy_cache .ruff_cache .pytest_cache .hypothesis
