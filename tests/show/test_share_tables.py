"""The figures of a run by string, fret, note and interval, as tables."""

from midifret.show.rows import plain
from midifret.show.run_figures import share_tables
from midifret.terms.figures import Share, Summary


def test_a_table_for_each_way_to_group_and_none_for_a_single_group() -> None:
    summary = Summary(
        prompts=4,
        right=3,
        median_response_s=1.0,
        spread_response_s=0.5,
        median_recall_s=None,
        by_string=(Share("1", 2, 1, 1.25, None), Share("2", 2, 2, 0.8, 0.4)),
        by_fret=(Share("5", 4, 3, 1.0, 0.5),),
        by_name=(),
        by_interval=(),
        by_verdict=(),
        slowest=(),
        least_sure=(),
        gate=None,
    )
    lines = [plain(line) for line in share_tables(summary)]
    assert len([line for line in lines if line]) == 3
    assert lines[1].startswith("By string")
    assert lines[2].split() == ["1", "1/2", "1.25", "s", "-"]
    assert lines[3].split() == ["2", "2/2", "0.80", "s", "0.40", "s"]
    assert all(len(line) <= 80 for line in lines)
