def test_parts_and_labels(run, ask, number, tmp_path):
    file = tmp_path / "labels.pdf"
    code, text = run(
        "job", "parts", number, "--labels", file, "--address", "http://127.0.0.1/jobs/1"
    )
    assert code == 0
    assert "Pull the plug" in text
    assert file.read_bytes().startswith(b"%PDF")
    assert [label["title"] for label in ask("job", "parts", number)[1]["labels"]] == [
        "Veltro 6, two doors down"
    ]
