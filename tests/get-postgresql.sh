#!/bin/sh
# The tests of the records run on PostgreSQL too. Install the distribution's server where that is allowed; else say plainly
# what will be skipped. The tests start a server of their own, so the package may neither make nor start one.
find_server() {
    command -v postgres >/dev/null 2>&1 || ls /usr/lib/postgresql/*/bin/postgres >/dev/null 2>&1
}
if find_server; then exit 0; fi
if [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null 2>&1; then
    echo "Installing the distribution's PostgreSQL for the tests of the records …"
    settings=/etc/postgresql-common/createcluster.d
    mkdir -p "$settings" && echo "create_main_cluster = false" >"$settings/foible-tests.conf"
    { apt-get -qq update && DEBIAN_FRONTEND=noninteractive apt-get -qq install --yes --no-install-recommends postgresql; } >/dev/null 2>&1
    rm -f "$settings/foible-tests.conf"
    if find_server; then exit 0; fi
fi
echo "There is no PostgreSQL server and it cannot be installed here: the tests of the records run on SQLite alone. Install the package postgresql to run them on both."
