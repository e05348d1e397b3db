def test_a_machine_comes_back(ask, workshop, number):
    workshop.change_settings({"warranty_months": 3})
    for words in (["repair", number, "replace_dampers"], ["proof", number, "--passed"]):
        assert ask("job", *words)[0] == 0
    assert ask("job", "came-back", number)[0] == 2
    assert ask("job", "close", number, "repair_hand_back", "--received", "50")[0] == 0
    assert workshop.jobs.get(number).closed.terms["warranty_months"] == 3
    code, said = ask("job", "came-back", number, "--why", "shakes again")
    assert (code, said["job"]) == (0, number)
    code, found = ask("job", "estimate", number)
    assert (code, found["free"]) == (0, True)
