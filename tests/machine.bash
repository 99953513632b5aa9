# What tests/run needs of the machine: programs, installed if they are missing and may be, and a PostgreSQL.
# shellcheck shell=bash

cargo_deny_version=0.20.2
postgres_folder=$work/postgres
DOVETALLY_TEST_POSTGRES="postgres://dovetally@/postgres?host=$postgres_folder&port=54320"

# Where the newest PostgreSQL server's programs are; Debian keeps them out of the PATH.
postgres_programs() {
    local initdb
    initdb=$(printf '%s\n' /usr/lib/postgresql/*/bin/initdb | sort -V | tail -n 1)
    [ -x "$initdb" ] || initdb=$(command -v initdb) || return 1
    dirname "$initdb"
}

prepare_machine() {
    command -v cargo >/dev/null || {
        echo "Install the Rust toolchain first: cargo is not in the PATH."
        return 1
    }
    local missing=()
    [ -e /etc/ssl/certs/ca-certificates.crt ] || [ ! -e /etc/debian_version ] || missing+=(ca-certificates)
    command -v cc >/dev/null || missing+=(gcc libc6-dev)
    command -v make >/dev/null || missing+=(make)
    postgres_programs >/dev/null || missing+=(postgresql)
    # The demo shop's history is written anew and compared.
    command -v python3 >/dev/null || missing+=(python3)
    if [ "$mode" = everything ]; then
        command -v node >/dev/null || missing+=(nodejs)
        command -v npm >/dev/null || missing+=(npm)
        command -v "${DOVETALLY_TEST_CHROMIUM:-chromium}" >/dev/null || missing+=(chromium)
        # Debian's python3 alone makes no environments.
        python3 -c 'import ensurepip, venv' 2>/dev/null || missing+=(python3-venv)
    fi
    [ ${#missing[@]} != 0 ] || return 0
    if [ "$(id -u)" != 0 ] || ! command -v apt-get >/dev/null; then
        echo "Install these first, here named as Debian names them: ${missing[*]}."
        return 1
    fi
    echo "installing ${missing[*]}"
    # The server's package would start a database of its own, which nothing here uses.
    if [ ! -e /etc/postgresql-common/createcluster.conf ]; then
        mkdir -p /etc/postgresql-common
        echo "create_main_cluster = false" >/etc/postgresql-common/createcluster.conf
    fi
    local apt=(env DEBIAN_FRONTEND=noninteractive apt-get -q -y -o DPkg::Lock::Timeout=300 -o Dpkg::Use-Pty=0
        -o Dpkg::Options::=--force-confold)
    "${apt[@]}" update && "${apt[@]}" install --no-install-recommends "${missing[@]}"
}

have_cargo_deny() {
    [ "$(cargo deny --version 2>/dev/null)" = "cargo-deny $cargo_deny_version" ] && return
    echo "installing cargo-deny $cargo_deny_version (once, two to three minutes)"
    # Unoptimised, as it then costs half the work to build and still checks within seconds.
    cargo install --locked --debug --force --target-dir "$work/cargo-deny" "cargo-deny@$cargo_deny_version"
}

have_node() {
    node -e 'const [a, b] = process.versions.node.split("."); process.exit(a > 18 || (a == 18 && b >= 17) ? 0 : 1)' &&
        command -v npm >/dev/null && return
    echo "Install Node.js 18.17 or later, with npm (on Debian 12 or later: nodejs npm)."
    return 1
}

have_chromium() {
    command -v "${DOVETALLY_TEST_CHROMIUM:-chromium}" >/dev/null && return
    echo "Install Chromium (on Debian: chromium), or name it by DOVETALLY_TEST_CHROMIUM."
    return 1
}

have_python() {
    python3 -c 'import ensurepip, sys, venv; sys.exit(sys.version_info < (3, 11))' 2>/dev/null && return
    echo "Install Python 3.11 or later, with venv (on Debian 12 or later: python3-venv)."
    return 1
}

# Runs one of PostgreSQL's programs as a user that it is content with: it refuses root.
postgres_program() {
    local programs user as=()
    programs=$(postgres_programs) || {
        echo "Install PostgreSQL's server (on Debian: postgresql)."
        return 1
    }
    if [ "$(id -u)" = 0 ]; then
        user=$(id -un postgres 2>/dev/null) || user=nobody
        chmod 711 "$work"
        chown "$user" "$postgres_folder"
        as=(setpriv --reuid "$user" --regid "$(id -g "$user")" --clear-groups --)
    fi
    (cd / && LC_ALL=C "${as[@]}" "$programs/$1" "${@:2}")
}

# start_postgres on|off: a server that listens on a socket in its own folder and nowhere else, and trusts whoever
# can enter that folder. "on": it syncs to disk as a real one does.
start_postgres() {
    local durable=$1 log=$postgres_folder/log
    mkdir -m 700 "$postgres_folder"
    postgres_program initdb --pgdata "$postgres_folder/data" --username dovetally --encoding UTF8 --locale C \
        --auth-local trust --auth-host reject --no-instructions >"$work/initdb.log" 2>&1 || {
        cat "$work/initdb.log"
        return 1
    }
    cat >>"$postgres_folder/data/postgresql.conf" <<END
listen_addresses = ''
unix_socket_directories = '$postgres_folder'
port = 54320
max_connections = 200
timezone = 'UTC'
fsync = $durable
full_page_writes = $durable
synchronous_commit = $durable
END
    # pg_ctl gives the server a session of its own: ended by stop_postgres, not with this step.
    postgres_program pg_ctl start --wait --timeout=60 --silent --pgdata "$postgres_folder/data" --log "$log" || {
        cat "$log"
        return 1
    }
    postgres_program postgres --version
}

# Ends the server and everyone connected to it; does nothing when none runs.
stop_postgres() {
    [ -e "$postgres_folder/data/postmaster.pid" ] || return 0
    postgres_program pg_ctl stop --wait --silent --mode fast --pgdata "$postgres_folder/data"
}
