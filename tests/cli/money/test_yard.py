def test_the_yard_in_the_terminal(run, ask, number):
    code, found = ask("yard", "--hours", 1)
    assert (code, [job["number"] for job in found["fits"]]) == (0, [number])
    text = run("yard", "--hours", 1)[1]
    assert "56 EUR an hour" in text
    assert "fill 1 h 00 min best" in text


def test_a_day_promised_from_the_terminal(ask, run, workshop):
    assert (
        ask("job", "new", "--family", "bench", "--complaint", "shakes", "--promised", "2026-03-05")[
            0
        ]
        == 0
    )
    assert workshop.jobs.get(1).intake.promised == "2026-03-05"
    assert "promised for 5 Mar 2026" in run("yard")[1]
    assert (
        run("job", "new", "--family", "bench", "--complaint", "shakes", "--promised", "tomorrow")[0]
        == 2
    )
