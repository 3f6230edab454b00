# What the demonstration, the tests and the checks need before they start. Sourced by bash, run by none.

root="$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)"

say_and_stop() {
    echo "$1" >&2
    exit 1
}

# Installs Debian packages where this person may, and otherwise says in one line which to install.
debian_packages() {
    local why="$1" as_root=()
    shift
    if [ "$(id -u)" -ne 0 ]; then
        as_root=(sudo -n)
    fi
    if command -v apt-get >/dev/null && "${as_root[@]}" true 2>/dev/null; then
        echo "Installing $* with apt-get ..." >&2
        "${as_root[@]}" apt-get update -qq </dev/null >/dev/null || true
        if "${as_root[@]}" env DEBIAN_FRONTEND=noninteractive \
            apt-get install -y -qq --no-install-recommends "$@" </dev/null >/dev/null; then
            return 0
        fi
    fi
    say_and_stop "$why: install $* (on Debian: apt-get install $*) and run this again."
}

is_fit() {
    "$1" -c 'import sys, tkinter, venv, ensurepip; sys.exit(sys.version_info < (3, 11))' >/dev/null 2>&1
}

# Prints the first Python that is new enough and has Tk and venv; installs Debian's where there is none.
fit_python() {
    local candidate
    for candidate in python3 python3.13 python3.12 python3.11 /usr/bin/python3; do
        if is_fit "$candidate"; then
            echo "$candidate"
            return 0
        fi
    done
    debian_packages "No Python 3.11 or newer with Tk and venv was found" python3 python3-venv python3-tk
    is_fit /usr/bin/python3 ||
        say_and_stop "Debian's Python is older than 3.11: install Python 3.11 or newer with Tk and venv."
    echo /usr/bin/python3
}

# prepare [EXTRA]: makes .venv and installs the project there, unless nothing has changed since it was done.
prepare() {
    local extra="${1:-}" python state stamp="$root/.venv/set-up-of"
    state="$root $(sha256sum <"$root/pyproject.toml")"
    if is_fit "$root/.venv/bin/python" && [ -f "$stamp" ]; then
        case "$(cat "$stamp")" in
            "$state $extra" | "$state test") return 0 ;;
        esac
    fi
    python="$(fit_python)"
    echo "Setting up $root/.venv (a few minutes the first time) ..." >&2
    is_fit "$root/.venv/bin/python" || "$python" -m venv --clear "$root/.venv" >&2
    rm -f "$stamp"
    "$root/.venv/bin/python" -m pip install -qq --disable-pip-version-check \
        --editable "$root${extra:+[$extra]}" </dev/null >&2
    echo "$state $extra" >"$stamp"
}

# The virtual screen that the window tests open their windows on.
prepare_screen() {
    [ "$(uname -s)" != Linux ] || command -v Xvfb >/dev/null ||
        debian_packages "The window tests need a virtual screen and Xvfb was not found" xvfb
}
