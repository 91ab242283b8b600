# shellcheck shell=sh
# A private X display for what runs after `start_display`, ended with the script.

end_display() {
    if [ -n "${xvfb_pid:-}" ]; then
        kill "$xvfb_pid" 2>/dev/null
        wait "$xvfb_pid" 2>/dev/null
    fi
    if [ -n "${display_file:-}" ]; then rm -f "$display_file"; fi
}

# Starts Xvfb on a free display and exports DISPLAY. Without Xvfb the display stays as it was.
start_display() {
    command -v Xvfb >/dev/null 2>&1 || return 0
    display_file=$(mktemp) || return 0
    trap end_display EXIT
    trap 'exit 130' INT
    trap 'exit 143' TERM HUP
    Xvfb -displayfd 8 -screen 0 1600x1200x24 -nolisten tcp 8>"$display_file" >/dev/null 2>&1 &
    xvfb_pid=$!
    tries=0
    # The number is complete once its line is.
    until [ "$(wc -l <"$display_file")" -gt 0 ]; do
        tries=$((tries + 1))
        if [ "$tries" -gt 100 ] || ! kill -0 "$xvfb_pid" 2>/dev/null; then
            printf '%s\n' "stemline: Xvfb did not start; tests that need a display will fail" >&2
            return 0
        fi
        sleep 0.1
    done
    DISPLAY=:$(cat "$display_file")
    export DISPLAY
    unset WAYLAND_DISPLAY
}
