# A Python with numpy and scipy at the locked versions, in target/scipy-venv; sourced from the project's folder.
# shellcheck shell=bash

scipy_python=target/scipy-venv/bin/python

# Built anew when what is locked has changed; complete only when the copy lies in it.
prepare_scipy() {
    local venv=target/scipy-venv locked=tests/scipy/requirements.txt
    cmp -s "$locked" "$venv/requirements.txt" && "$scipy_python" -c '' 2>/dev/null && return
    python3 -m venv --clear "$venv" &&
        "$scipy_python" -m pip install --quiet --disable-pip-version-check --require-hashes --only-binary :all: -r "$locked" &&
        cp "$locked" "$venv/requirements.txt"
}
