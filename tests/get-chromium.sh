#!/bin/sh
# The browser tests need Chromium. The one without windows opens a page in a third of the time, so it is installed where that is
# allowed and the distribution has it, and the usual one else; where neither can be, say plainly what will be skipped.
if command -v chromium-headless-shell >/dev/null 2>&1; then exit 0; fi
there=
for name in chromium chromium-browser google-chrome; do
    if command -v "$name" >/dev/null 2>&1; then there=yes; fi
done
installed() {
    DEBIAN_FRONTEND=noninteractive timeout 180 apt-get -qq install --yes --no-install-recommends "$1" >/dev/null 2>&1
}
if [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null 2>&1; then
    echo "Installing the distribution's Chromium for the browser tests …"
    if installed chromium-headless-shell; then exit 0; fi
    if [ -z "$there" ] && apt-get -qq update >/dev/null 2>&1 && { installed chromium-headless-shell || installed chromium; }; then exit 0; fi
fi
if [ -n "$there" ]; then exit 0; fi
echo "There is no Chromium and it cannot be installed here: the tests in tests/browser are skipped. Install the package chromium to run them."
