"""`make bench` runs these at full size and prints a table; the test run, small and unjudged."""

from collections.abc import Iterator

import pytest

from tests.bench.frame import RESULTS, Bench, is_full, table, write


@pytest.fixture(scope="session")
def bench(request: pytest.FixtureRequest) -> Iterator[Bench]:
    bench = Bench(is_full=is_full())
    yield bench
    if bench.is_full:
        write(bench.results)
        reporter = request.config.pluginmanager.get_plugin("terminalreporter")
        assert reporter is not None
        reporter.write_line(f"\n\n{table(bench.results)}\n\nalso in {RESULTS}")
