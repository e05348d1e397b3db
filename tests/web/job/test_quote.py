import pytest

from counterpoise.workshop.jobs.entries import Decision

YES = {
    "answer": "repair_hand_back",
    "agreed_by": "Mrs Ode",
    "price_minor": 5088,
    "repairs": ["replace_dampers"],
}


def passages(client, number):
    return {
        p["title"]: p["sentences"]
        for p in client.get(f"/api/jobs/{number}/quote").json()["passages"]
    }


def test_the_quote_says_what_how_sure_how_much_and_what_else(client, number):
    page = client.get(f"/jobs/{number}/quote").text
    said = passages(client, number)
    assert said["What is wrong"][0].startswith(
        "Most likely: dampers worn. They no longer brake the tub"
    )
    assert said["What is wrong"][1] == "It could also be: drum support cracked (3 times in 10)."
    assert said["What we would do"] == ["Replace the set of dampers."]
    assert said["What it costs"][0] == "The repair as planned costs 50.88 EUR."
    assert any("no more than" in sentence for sentence in said["What it costs"])
    assert "you owe 36.00 EUR for finding the fault" in said["If it turns out worse"][-1]
    assert said["The other ways"][0] == "Of the ways open to you, the repair comes out best."
    assert "Guaranteed for 6 months" in said["Our guarantee"][0]
    for heading, sentences in said.items():
        assert heading in page
        assert all(sentence.split(".")[0] in page.replace("&#34;", '"') for sentence in sentences)


def test_a_yes_is_kept_with_price_ceiling_work_and_name(client, workshop, number):
    ceiling = client.get(f"/api/jobs/{number}/quote").json()["ceiling_minor"]
    assert client.post(f"/api/jobs/{number}/quote", json=YES).status_code == 201
    kept = workshop.jobs.get(number).decision
    assert (kept.option, kept.agreed_minor, kept.quoted_minor) == ("repair_hand_back", 5088, 5088)
    assert (kept.ceiling_minor, kept.repairs, kept.agreed_by) == (
        ceiling,
        ("replace_dampers",),
        "Mrs Ode",
    )
    assert (
        f"Quote accepted by Mrs Ode at 50.88 EUR, at most {ceiling / 100:.2f} EUR"
        in client.get(f"/jobs/{number}/quote").text
    )
    assert "quote accepted by Mrs Ode" in client.get(f"/jobs/{number}/evidence").text


def test_an_accepted_quote_stays_in_sight_and_is_not_put_again(client, workshop, number):
    assert "What did the customer say?" in client.get(f"/jobs/{number}/quote").text
    client.post(f"/api/jobs/{number}/quote", json=YES)
    ceiling = workshop.jobs.get(number).decision.ceiling_minor
    for page in ("quote", "decision"):
        text = client.get(f"/jobs/{number}/{page}").text
        assert "50.88 EUR" in text
        assert f"at most {ceiling / 100:.2f} EUR" in text
        assert "What did the customer say?" not in text
    # dearer than the ceiling is another matter, and is asked
    workshop.change_settings({"labour_rate_minor": 4 * workshop.settings().labour_rate_minor})
    dear = client.get(f"/jobs/{number}/quote").text
    assert "What did the customer say?" in dear
    assert "this is not what was agreed" in dear


def test_other_work_than_was_agreed_is_asked_for(client, workshop, number):
    workshop.jobs.record(
        number,
        Decision("repair_hand_back", 900, quoted_minor=900, ceiling_minor=90_000, repairs=()),
    )
    assert "this is not what was agreed" in client.get(f"/jobs/{number}/quote").text


def test_the_price_is_drawn_by_what_it_is_for(client, number):
    made = client.get(f"/api/jobs/{number}/quote").json()
    assert sum(share["minor"] for share in made["made_of"]) == made["price_minor"]
    page = client.get(f"/jobs/{number}/quote").text
    chart = page[page.index("<svg xmlns") : page.index("</svg>")]
    assert all(share["title"] in chart for share in made["made_of"])


@pytest.mark.parametrize("way", ["hand_back", "replace"])
def test_a_no_is_kept_with_the_fee_that_is_owed(client, workshop, number, way):
    form = {
        "answer": way,
        "agreed_by": "Mr Ode",
        "price_minor": "5088",
        "repair": "replace_dampers",
        "last": "1",
    }
    assert client.post(f"/jobs/{number}/quote", data=form).status_code == 303
    kept = workshop.jobs.get(number).decision
    assert (kept.option, kept.agreed_minor, kept.quoted_minor, kept.ceiling_minor) == (
        way,
        3600,
        5088,
        None,
    )
    assert (
        "quote of 50.88 EUR declined by Mr Ode, 36.00 EUR owed"
        in client.get(f"/jobs/{number}/evidence").text
    )


@pytest.mark.parametrize(
    ("change", "status", "said"),
    [
        ({"price_minor": 5087}, 409, "now it is 50.88 EUR"),
        ({"agreed_by": "  "}, 422, "agreed_by"),
        ({"answer": "scrap"}, 422, "answer"),
        ({"repairs": ["pray"]}, 422, "pray"),
        ({"repairs": []}, 422, "repairs"),
        ({"expected_last": 7}, 409, "wrote to job"),
    ],
)
def test_an_answer_that_cannot_stand_changes_nothing(
    client, workshop, number, change, status, said
):
    answer = client.post(f"/api/jobs/{number}/quote", json=YES | change)
    assert answer.status_code == status
    assert said in answer.text
    assert workshop.jobs.get(number).decision is None


def test_there_is_no_quote_for_its_own_machine_nor_for_work_that_is_done(client, workshop, number):
    client.post(f"/api/jobs/{number}/repairs", json={"repair": "replace_dampers"})
    client.post(f"/api/jobs/{number}/proofs", json={"passed": True})
    assert "the work is done" in client.get(f"/jobs/{number}/quote").text
    own = {"family": "bench", "owner": "workshop", "complaints": ["shakes"]}
    mine = client.post("/api/jobs", json=own).json()["job"]
    assert client.get(f"/jobs/{mine}/quote").status_code == 422
    assert f'href="/jobs/{mine}/quote' not in client.get(f"/jobs/{mine}").text


def test_the_paper_is_a_pdf(client, number):
    paper = client.get(f"/jobs/{number}/quote.pdf")
    assert paper.headers["content-type"] == "application/pdf"
    assert paper.content.startswith(b"%PDF")
