import pytest
from jinja2 import DictLoader, Environment, StrictUndefined
from markupsafe import Markup

from counterpoise.report.languages import tongue
from counterpoise.report.languages.marking import Marked
from counterpoise.report.languages.tongue import Tongue

# a language that there is not
MADE_UP = {
    "More": "Orem",
    "firm": "imref",
    "over 99 %": "revo 99 %",
    "to": "ot",
    "“{quoted}”": "„{quoted}“",
    "<b>Mind:</b> %(x)s is open": "%(x)s nepo <b>Dnim:</b>",
    "about {0}; first: {1}": "tsrif {1}, tuoba {0}",
    "{count} times in 10": "01 ni {count}",
}


@pytest.fixture
def spoken():
    return Tongue("de", MADE_UP)


@pytest.mark.parametrize(
    ("shown", "said"),
    [
        ("firm", "imref"),
        ("Firm", "Imref"),
        ("Firm over 99 %", "Imref revo 99 %"),
        ("Firm 9.5 mm", "Imref 9,5 mm"),
        (" firm: ", " firm: "),
        ("firm ", "imref "),
        (" ", " "),
        ("“Firm”", "„Imref“"),
        ("firm (7 times in 10)", "imref (01 ni 7)"),
        ("9.5 mm: Firm", "9,5 mm: Imref"),
        ("20 to 150 EUR", "20 ot 150 EUR"),
        ("7 times in 10", "01 ni 7"),
        ("about 7 times in 10; first: firm", "tsrif imref, tuoba 01 ni 7"),
        ("firm, nobody knows", "imref, nobody knows"),
        ("12.50 EUR", "12,50 EUR"),
        ("1.2.3", "1.2.3"),
        ("5 Mar 2026, 14:03", "05.03.2026, 14:03"),
        ("31 Feb 2026", "31 Feb 2026"),
        ("nobody knows", "nobody knows"),
        ("", ""),
    ],
)
def test_what_is_known_is_said_and_the_rest_stands(spoken, shown, said):
    assert spoken.say(shown) == said


def page(template, spoken, **values):
    made = Environment(
        loader=DictLoader({"page": template}),
        autoescape=True,
        undefined=StrictUndefined,
        extensions=[Marked],
    )

    def message(said, **held):
        return Markup(spoken.text(said)) % held

    def say(value):
        return spoken.say(value) if type(value) is str else value

    made.globals.update(_=message, say=say)
    return made.get_template("page").render(**values)


@pytest.mark.parametrize(
    ("template", "made"),
    [
        ("<p>More</p>", "<p>Orem</p>"),
        (
            '<a title="More" class="More" href="/More">{{ x }}</a>',
            '<a title="Orem" class="More" href="/More">Imref</a>',
        ),
        (
            '<input name="More" value="{{ x }}" placeholder="{{ x }}">',
            '<input name="More" value="Firm" placeholder="Imref">',
        ),
        ("<p> <b>Mind:</b> {{ x }} is open </p>", "<p> Imref nepo <b>Dnim:</b> </p>"),
        ("<p>{{ x|e }}</p><textarea>{{ x }}</textarea>", "<p>Firm</p><textarea>Firm</textarea>"),
        ("<style>More</style><p>{% if x %}More{% endif %}</p>", "<style>More</style><p>Orem</p>"),
        ("<p>100 % of {{ y }}</p>", "<p>100 % of &lt;i&gt;</p>"),
        (
            "{% set at %}More={{ x }}{% endset %}<a href='{{ at }}'>More</a>",
            "<a href='More=Firm'>Orem</a>",
        ),
    ],
)
def test_every_text_of_a_template_is_a_message(spoken, template, made):
    assert page(template, spoken, x="Firm", y="<i>") == made


def test_a_third_language_is_a_folder_and_nothing_else(tmp_path, monkeypatch):
    (tmp_path / "eo").mkdir()
    (tmp_path / "eo" / "pages.po").write_text(
        'msgid "More"\nmsgstr "Pli"\n\n#, fuzzy\nmsgid "Jobs"\nmsgstr "?"\n'
    )
    (tmp_path / "empty").mkdir()
    monkeypatch.setattr(tongue, "folder", lambda: tmp_path)
    tongue.codes.cache_clear()
    tongue.tongue.cache_clear()
    try:
        assert tongue.codes() == ("en", "eo")
        assert tongue.name("eo") == "Esperanto"
        assert tongue.wanted("eo") == "eo"
        with tongue.reading("eo"):
            # what nobody has looked over is not shown
            assert [tongue.text("More"), tongue.say("Jobs"), tongue.say(3)] == ["Pli", "Jobs", 3]
        assert tongue.say("More") == "More"
    finally:
        tongue.codes.cache_clear()
        tongue.tongue.cache_clear()
