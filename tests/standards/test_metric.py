from photomeasure.standards.metric import (
    crest_formula_um,
    crest_tolerances,
    flank_formula_um,
    flank_tolerances,
    r40,
)


def test_r40_numbers() -> None:
    # ISO 3, from memory: ... 118, 125, 132, 140 ...
    assert [r40(value) for value in (121.0, 129.7, 139.5, 98.0)] == [118, 132, 140, 100]


def test_printed_crest_tolerances_are_the_formulas_but_for_two() -> None:
    differing = {
        (pitch, name)
        for pitch, row in crest_tolerances().items()
        for name, printed, formula in zip(
            ("major", "minor"),
            (row.major_tolerance_um, row.minor_tolerance_um),
            crest_formula_um(pitch)[1:],
            strict=True,
        )
        if abs(printed - formula) > 0.5
    }
    assert differing == {(2.5, "minor"), (4.0, "major")}


def test_printed_deviations_are_near_the_formula_and_not_always_its_rounding() -> None:
    for pitch, row in crest_tolerances().items():
        assert abs(row.g_deviation_um - crest_formula_um(pitch)[0]) <= 1.0
    # the trap: -28 and -38 are printed, the formula gives -28.75 and -37
    assert crest_tolerances()[1.25].g_deviation_um == -28
    assert crest_tolerances()[2.0].g_deviation_um == -38


def test_printed_flank_tolerances_are_the_formulas_but_for_the_known_ones() -> None:
    differing = {
        (row.major_up_to_mm, row.pitch_mm)
        for row in flank_tolerances()
        if abs(row.internal_pitch_tolerance_um - flank_formula_um(row)[1]) > 0.5
    }
    assert differing == {(11.2, 1.5), (22.4, 1.25), (22.4, 1.5)}
    assert all(
        abs(row.external_pitch_tolerance_um - flank_formula_um(row)[0]) <= 0.5
        for row in flank_tolerances()
    )
