# shellcheck shell=sh
# The set-up that packaging/run, packaging/test and packaging/bench share.
#
# Sourced with $root set to the checkout. `set_up run` or `set_up test` leaves a complete
# environment in $root/.venv, or ends the script with one sentence that says what to do.
# Everything said here goes to standard error: standard output belongs to the trainer.
#
# Files of the set-up, all inside .venv:
#   .ready-run, .ready-test   what was set up: checksum of pyproject.toml, Python, checkout
#   .unfinished               there while a set-up runs, so also after one that was interrupted
#   .missing-libraries        there as long as a system library is missing
#   setup.log                 what venv, pip and apt-get said

# shellcheck disable=SC2154  # root is set by the script that sources this file
venv=$root/.venv
log=$venv/setup.log

say() { printf '%s\n' "stemline: $*" >&2; }

fail() {
    say "$@"
    exit 1
}

# --- the fast path: is what was set up still what is wanted? -------------------------------

# Prints what a stamp must hold. Fails when the environment's Python or a module of ours is gone.
fingerprint() {
    environment=$("$venv/bin/python" -I -c '
import sys
from importlib.util import find_spec
wanted = ("trainer", "chess", "fsrs", "numpy", "cairosvg", "PySide6", "platformdirs")
if not all(map(find_spec, wanted)):
    sys.exit(1)
print("python%d.%d" % sys.version_info[:2])' 2>/dev/null) || return 1
    printf '%s %s %s\n' "$(cksum <"$root/pyproject.toml")" "$environment" "$root"
}

# $1: run or test.
ready() {
    [ -f "$venv/.ready-$1" ] && [ ! -e "$venv/.unfinished" ] || return 1
    now=$(fingerprint) && [ "$(cat "$venv/.ready-$1")" = "$now" ]
}

# Records that the environment is complete. $1: run or test; test covers run.
write_stamps() {
    now=$(fingerprint) || return 1
    printf '%s\n' "$now" >"$venv/.ready-run"
    if [ "$1" = test ]; then printf '%s\n' "$now" >"$venv/.ready-test"; fi
    rm -f "$venv/.unfinished"
}

# --- Debian's packages ---------------------------------------------------------------------

as_root() {
    if [ "$(id -u)" = 0 ]; then "$@"; else sudo -n "$@"; fi
}

may_install() {
    command -v apt-get >/dev/null 2>&1 && as_root true 2>/dev/null
}

apt_get() {
    as_root env DEBIAN_FRONTEND=noninteractive apt-get -y -o DPkg::Lock::Timeout=120 "$@" \
        </dev/null >>"$log" 2>&1
}

# Installs the named packages, as many of them as there are.
apt_install() {
    mkdir -p "$venv"
    say "installing system packages: $*"
    apt_get install --no-install-recommends "$@" && return
    # A fresh machine has no package lists yet; and one unknown name must not stop the others.
    apt_get update
    apt_get install --no-install-recommends "$@" && return
    for package in "$@"; do
        apt_get install --no-install-recommends "$package"
    done
}

# What Qt 6's widgets, its X11 plugin and cairo load from the system, and Debian's package for it.
libraries='
libEGL.so.1 libegl1
libGL.so.1 libgl1
libX11.so.6 libx11-6
libX11-xcb.so.1 libx11-xcb1
libxkbcommon.so.0 libxkbcommon0
libxkbcommon-x11.so.0 libxkbcommon-x11-0
libxcb.so.1 libxcb1
libxcb-cursor.so.0 libxcb-cursor0
libxcb-glx.so.0 libxcb-glx0
libxcb-icccm.so.4 libxcb-icccm4
libxcb-image.so.0 libxcb-image0
libxcb-keysyms.so.1 libxcb-keysyms1
libxcb-randr.so.0 libxcb-randr0
libxcb-render.so.0 libxcb-render0
libxcb-render-util.so.0 libxcb-render-util0
libxcb-shape.so.0 libxcb-shape0
libxcb-shm.so.0 libxcb-shm0
libxcb-sync.so.1 libxcb-sync1
libxcb-util.so.1 libxcb-util1
libxcb-xfixes.so.0 libxcb-xfixes0
libxcb-xkb.so.1 libxcb-xkb1
libdbus-1.so.3 libdbus-1-3
libfontconfig.so.1 libfontconfig1
libfreetype.so.6 libfreetype6
libglib-2.0.so.0 libglib2.0-0
libzstd.so.1 libzstd1
libcairo.so.2 libcairo2
'

# Prints the packages whose library cannot be loaded, one a line. $1: a Python. The loader itself
# is asked, so that it does not matter where a distribution keeps its libraries.
missing_libraries() {
    [ "$(uname -s)" = Linux ] || return 0
    printf '%s\n' "$libraries" | "$1" -I -c '
import ctypes, sys
for library, package in filter(None, map(str.split, sys.stdin)):
    try:
        ctypes.CDLL(library)
    except OSError:
        print(package)'
    # Figurine notation needs a font with chess pieces.
    for folder in /usr/share/fonts /usr/local/share/fonts "${HOME:-/}/.local/share/fonts"; do
        if [ -d "$folder" ] && [ -n "$(find -L "$folder" -name DejaVuSans.ttf 2>/dev/null)" ]; then
            return 0
        fi
    done
    echo fonts-dejavu-core
}

# Installs the system libraries that are missing, or says which. $1: a Python.
provide_libraries() {
    missing=$(missing_libraries "$1" | sort -u | tr '\n' ' ')
    missing=${missing% }
    if [ -n "$missing" ] && may_install; then
        # shellcheck disable=SC2086  # a list of package names
        apt_install $missing
        missing=$(missing_libraries "$1" | sort -u | tr '\n' ' ')
        missing=${missing% }
    fi
    if [ -z "$missing" ]; then
        rm -f "$venv/.missing-libraries"
        return
    fi
    mkdir -p "$venv"
    : >"$venv/.missing-libraries"
    say "system packages are missing and could not be installed from here: $missing;" \
        "install them with: sudo apt-get install -y $missing"
}

# Installs commands that are missing, or says which. Arguments: command:package …
provide_commands() {
    wanted=
    for pair in "$@"; do
        command -v "${pair%%:*}" >/dev/null 2>&1 || wanted="$wanted ${pair#*:}"
    done
    [ -n "$wanted" ] || return 0
    # shellcheck disable=SC2086  # a list of package names
    if may_install; then apt_install $wanted; fi
    lacking=
    for pair in "$@"; do
        command -v "${pair%%:*}" >/dev/null 2>&1 || lacking="$lacking ${pair#*:}"
    done
    [ -z "$lacking" ] || say "commands are missing and could not be installed from here:$lacking;" \
        "install them with: sudo apt-get install -y$lacking"
}

# --- Python --------------------------------------------------------------------------------

# Prints "major minor micro state path" for each Python that runs, is 3.11 or later and released,
# and has the standard modules that we need; newest first, one of a kind. Each is run, because a name on PATH may
# be a version manager's stand-in for a Python that is not selected. state: whole, or no-ensurepip.
pythons() {
    {
        printf '%s\n' "$PATH" | tr ':' '\n'
        for folder in "${HOME:-/nonexistent}"/.pyenv/versions/*/bin; do
            printf '%s\n' "$folder"
        done
    } | while IFS= read -r folder; do
        case $folder in
            '' | "$venv"/*) continue ;;
        esac
        for candidate in "$folder"/python3.[1-9][0-9] "$folder"/python3; do
            [ -x "$candidate" ] || continue
            "$candidate" -I -c '
import sys, sysconfig
v = sys.version_info
if v < (3, 11) or v.releaselevel != "final" or sysconfig.get_config_var("Py_GIL_DISABLED"):
    sys.exit(1)
import ctypes, sqlite3, ssl, venv
try:
    import ensurepip
    state = "whole"
except ImportError:
    state = "no-ensurepip"
print(*v[:3], state, getattr(sys, "_base_executable", "") or sys.executable)
' </dev/null 2>/dev/null || true
        done
    done | sort -k1,1nr -k2,2nr -k3,3nr | awk '!seen[$1, $2, $4]++'
}

# Prints the Pythons an environment can be made with; installs Debian's where there is none.
suitable_pythons() {
    all=$(pythons)
    whole=$(printf '%s\n' "$all" | grep ' whole ')
    if [ -z "$whole" ]; then
        # Debian ships ensurepip apart from Python.
        versioned=$(printf '%s\n' "$all" | sed -n 's|^\(3\) \([0-9]*\) .* \(/usr\)\{0,1\}/bin/.*|python\1.\2-venv|p')
        packages=${versioned:-python3 python3-venv}
        # shellcheck disable=SC2086  # a list of package names
        if may_install; then apt_install $packages; fi
        whole=$(pythons | grep ' whole ')
    fi
    printf '%s\n' "$whole"
}

no_python() {
    fail "no suitable Python was found: Stemline needs Python 3.11 or later with venv, ensurepip," \
        "sqlite3 and ssl; install it with: sudo apt-get install -y python3 python3-venv"
}

# --- the environment -----------------------------------------------------------------------

# Waits for another set-up of this checkout to end. The lock belongs to the open file, so it is
# gone with this process however that ends. $1: a Python.
take_lock() {
    exec 9<"$root/packaging/lib.sh"
    "$1" -I -c 'import fcntl; fcntl.flock(9, fcntl.LOCK_EX | fcntl.LOCK_NB)' 2>/dev/null && return
    say "another set-up of this checkout is running; waiting for it"
    "$1" -I -c 'import fcntl; fcntl.flock(9, fcntl.LOCK_EX)' || fail "$root cannot be locked"
}

release_lock() { exec 9<&-; }

# Whether what is in .venv can be brought up to date instead of made anew.
usable() {
    [ ! -e "$venv/.unfinished" ] || return 1
    # The scripts in it name the place where it was made.
    if [ -f "$venv/.ready-run" ]; then
        case $(cat "$venv/.ready-run") in
            *" $root") ;;
            *) return 1 ;;
        esac
    fi
    "$venv/bin/python" -I -c 'import sys, pip; sys.exit(sys.version_info < (3, 11))' 2>/dev/null
}

# $1: a Python.
make_environment() {
    { rm -rf "$venv" && mkdir "$venv"; } || fail "$venv cannot be written; check its permissions"
    : >"$venv/.unfinished"
    "$1" -I -m venv "$venv" </dev/null >>"$log" 2>&1
}

# $1: run or test.
install_package() {
    : >"$venv/.unfinished" || fail "$venv cannot be written; check its permissions"
    rm -f "$venv"/.ready-*
    wanted=.
    [ "$1" = run ] || wanted=".[$1]"
    (cd "$root" && "$venv/bin/python" -I -m pip install --no-input --disable-pip-version-check \
        -e "$wanted") </dev/null >>"$log" 2>&1 && write_stamps "$1" && compile_sources
}

# pip compiles what it copies and not what stays in the checkout; without this the first start
# would, and nothing else can happen in the window while Python compiles a module.
compile_sources() {
    "$venv/bin/python" -I -m compileall -q "$root/trainer" </dev/null >>"$log" 2>&1 || true
}

set_up_failed() {
    say "the set-up failed; the end of its log, $log, says why:"
    tail -n 12 "$log" >&2
    exit 1
}

# A newer Python than the libraries know is no reason to fail while an older one is there.
# $1: run or test; standard input: the suitable Pythons.
build_with_newest() {
    while read -r major minor micro _ path; do
        say "setting up with Python $major.$minor.$micro in $venv;" \
            "this is done once and takes a minute or two (log: $log)"
        make_environment "$path" && install_package "$1" && return
        grep -qi -e 'connection' -e 'name resolution' -e 'network is unreachable' "$log" && return 1
        say "Python $major.$minor.$micro ($path) did not do"
    done
    return 1
}

# Brings a usable environment up to date. Fails when it has to be made anew. $1: run or test.
bring_up_to_date() {
    say "bringing $venv up to date (log: $log)"
    install_package "$1" && return
    fingerprint >/dev/null || return 1
    rm -f "$venv/.unfinished"
    [ "$1" = run ] || set_up_failed
    # Without a network the player still gets his drill; the next start tries again.
    say "that failed, so the trainer starts with what is installed"
}

# Leaves a complete environment in .venv. $1: run or test.
set_up() {
    if ready "$1"; then
        [ ! -e "$venv/.missing-libraries" ] || provide_libraries "$venv/bin/python"
        return 0
    fi
    candidates=$(suitable_pythons)
    [ -n "$candidates" ] || no_python
    take_lock "$(printf '%s\n' "$candidates" | sed -n '1s/^[^ ]* [^ ]* [^ ]* [^ ]* //p')"
    if ! ready "$1"; then
        if ! usable || ! bring_up_to_date "$1"; then
            build_with_newest "$1" <<END || set_up_failed
$candidates
END
        fi
        provide_libraries "$venv/bin/python"
    fi
    release_lock
}
