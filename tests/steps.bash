# Steps of tests/run: each runs whatever became of the others, is timed, and appears in the summary.
# shellcheck shell=bash

summary_lines=()
passed=0
failed=0
running=

# The longest that one step may take, in seconds: a test that hangs is a failure and not a run without an end.
step_limit=2700

# Runs a command or an exported function where a signal to tests/run, or the limit, ends it with all its children.
limited() {
    local status
    timeout --kill-after=10 "$step_limit" bash -uo pipefail -c '"$@"' step "$@" </dev/null &
    running=$!
    wait "$running"
    status=$?
    running=
    [ "$status" != 124 ] || echo "ended after $step_limit s"
    return "$status"
}

# Ends what is running now. (timeout passes the signal on to its process group.)
end_step() {
    [ -n "$running" ] || return 0
    kill -TERM "$running" 2>/dev/null
    wait "$running" 2>/dev/null
}

note() { # NAME SECONDS RESULT
    local line
    line=$(printf '%-16s %5d s  %s' "$1" "$2" "$3")
    summary_lines+=("$line")
    echo "=== $line"
}

# step NAME COMMAND...
step() {
    local name=$1 begun=$SECONDS
    shift
    echo "=== $name"
    if limited "$@"; then
        passed=$((passed + 1))
        note "$name" $((SECONDS - begun)) ok
    else
        failed=$((failed + 1))
        note "$name" $((SECONDS - begun)) FAILED
    fi
}

# tests_step NAME COMMAND...: as step, but counts the tests that cargo's runner reports.
tests_step() {
    local name=$1 begun=$SECONDS status tests_passed tests_failed result=ok
    shift
    echo "=== $name"
    limited with_log "$work/tests.log" "$@"
    status=$?
    read -r tests_passed tests_failed < <(
        sed -nE 's/^test result: .* ([0-9]+) passed; ([0-9]+) failed; .*/\1 \2/p' "$work/tests.log" |
            awk '{ passed += $1; failed += $2 } END { print passed + 0, failed + 0 }'
    )
    # A run that does not build, is ended, or runs nothing has failed too, whatever it counted.
    if [ $((tests_passed + tests_failed)) = 0 ] || { [ "$status" != 0 ] && [ "$tests_failed" = 0 ]; }; then
        failed=$((failed + 1))
        result=FAILED
    fi
    passed=$((passed + tests_passed))
    failed=$((failed + tests_failed))
    [ "$tests_failed" = 0 ] || result=FAILED
    note "$name" $((SECONDS - begun)) "$result ($tests_passed passed, $tests_failed failed)"
}

with_log() { # FILE COMMAND...
    local file=$1
    shift
    "$@" 2>&1 | tee "$file"
}
export -f with_log

# Prints the summary and ends the run.
summary() {
    echo
    echo "=== summary of tests/run, mode $mode, $SECONDS s"
    printf '%s\n' "${summary_lines[@]}"
    echo "$passed passed, $failed failed"
    [ "$failed" = 0 ]
    exit
}
