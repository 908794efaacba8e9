"""Titles in letters that the type of the pictures lacks: no warning, one plain sentence."""

from limbfe.view import theme


def test_letters_without_a_type_are_told(tmp_path):
    assert theme.lacking_letters("Esche, 28 Zoll: \u00e4\u03b1\u0416") == ""
    rare = "\U00012000"  # cuneiform, which no type of the list has
    assert theme.lacking_letters(f"bow {rare}") == rare
    with theme.typography():
        figure = theme.new_figure(2.0, 1.0)
        figure.text(0.1, 0.5, f"bow {rare}")
    assert theme.save_figure(figure, tmp_path / "a.png").exists()  # warnings are errors here
