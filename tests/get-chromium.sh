#!/bin/sh
# The browser tests need Chromium. Install the distribution's where that is allowed; else say plainly what will be skipped.
for name in chromium chromium-browser google-chrome; do
    if command -v "$name" >/dev/null 2>&1; then exit 0; fi
done
if [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null 2>&1; then
    echo "Installing the distribution's Chromium for the browser tests …"
    if { apt-get -qq update && DEBIAN_FRONTEND=noninteractive apt-get -qq install --yes --no-install-recommends chromium; } >/dev/null 2>&1; then
        exit 0
    fi
fi
echo "There is no Chromium and it cannot be installed here: the tests in tests/browser are skipped. Install the package chromium to run them."
