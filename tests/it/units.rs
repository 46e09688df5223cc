//! Units against outside libraries and published figures, what is refused, and round trips.

use proptest::prelude::*;
use units::{Length, LengthUnit, Mass, PerTen, UnitError, YarnCount};
use uom::si::f64::{Length as OutsideLength, LinearMassDensity, Mass as OutsideMass};
use uom::si::length::{foot, inch, meter, millimeter, yard};
use uom::si::linear_mass_density::gram_per_kilometer;
use uom::si::mass::{gram, kilogram, ounce};

fn mm(text: &str) -> f64 {
    text.parse::<Length>().unwrap_or_else(|e| panic!("{text}: {e}")).mm()
}

fn grams(text: &str) -> f64 {
    text.parse::<Mass>().unwrap_or_else(|e| panic!("{text}: {e}")).grams()
}

fn tex(text: &str) -> f64 {
    text.parse::<YarnCount>().unwrap_or_else(|e| panic!("{text}: {e}")).tex()
}

fn per_10_cm(text: &str) -> f64 {
    text.parse::<PerTen>().unwrap_or_else(|e| panic!("{text}: {e}")).per_10_cm()
}

fn close(what: &str, ours: f64, theirs: f64, relative: f64) {
    assert!(
        (ours - theirs).abs() <= relative * theirs.abs(),
        "{what}: ours {ours}, theirs {theirs}, within {relative}"
    );
}

/// Against the `uom` crate. Its ounce is rounded to seven digits (2.834 952E-2 kg), hence the
/// wider margin there.
#[test]
fn lengths_and_masses_agree_with_uom() {
    for x in [0.25, 1.0, 7.5, 22.0, 56.0, 437.0] {
        let outside = |length: OutsideLength| length.get::<millimeter>();
        close("mm", mm(&format!("{x} mm")), outside(OutsideLength::new::<millimeter>(x)), 1e-12);
        close("m", mm(&format!("{x} m")), outside(OutsideLength::new::<meter>(x)), 1e-12);
        for name in ["in", "inch", "inches", "\"", "IN"] {
            let inches = outside(OutsideLength::new::<inch>(x));
            close(name, mm(&format!("{x} {name}")), inches, 1e-12);
        }
        close(
            "12 in",
            mm(&format!("{} in", 12.0 * x)),
            outside(OutsideLength::new::<foot>(x)),
            1e-12,
        );
        let outside = |mass: OutsideMass| mass.get::<gram>();
        close("g", grams(&format!("{x} g")), outside(OutsideMass::new::<gram>(x)), 1e-12);
        close("kg", grams(&format!("{x} kg")), outside(OutsideMass::new::<kilogram>(x)), 1e-12);
        close("oz", grams(&format!("{x} oz")), outside(OutsideMass::new::<ounce>(x)), 5e-7);
    }
}

#[test]
fn counts_by_length_and_mass_agree_with_uom() {
    let density = |mass: OutsideMass, length: OutsideLength| -> f64 {
        let density: LinearMassDensity = mass / length;
        density.get::<gram_per_kilometer>()
    };
    for (text, outside) in [
        (
            "400 m/100 g",
            density(OutsideMass::new::<gram>(100.0), OutsideLength::new::<meter>(400.0)),
        ),
        (
            "437 yd/100 g",
            density(OutsideMass::new::<gram>(100.0), OutsideLength::new::<yard>(437.0)),
        ),
        (
            "437 yds / 100g",
            density(OutsideMass::new::<gram>(100.0), OutsideLength::new::<yard>(437.0)),
        ),
        (
            "230 yards/50 g",
            density(OutsideMass::new::<gram>(50.0), OutsideLength::new::<yard>(230.0)),
        ),
        ("0.4 m/g", density(OutsideMass::new::<gram>(0.1), OutsideLength::new::<meter>(0.04))),
    ] {
        close(text, tex(text), outside, 1e-12);
    }
    let ounces = density(OutsideMass::new::<ounce>(1.75), OutsideLength::new::<yard>(191.0));
    close("191 yd/1 3/4 oz", tex("191 yd/1 3/4 oz"), ounces, 5e-7);
}

/// Against `pint` 0.25.3 (`pip install pint==0.25.3`), which gave these figures:
///
/// ```text
/// python3 -c '
/// import pint; u = pint.UnitRegistry(); Q = u.Quantity
/// tex = lambda q: round(q.to("tex").magnitude, 6)
/// print(tex(1 / Q(20, "number_english")), tex(1 / Q(14, "number_meter")), tex(1 / Q(12 * 560, "yard/pound")))
/// print(tex(Q("2500 dtex")), tex(Q("2250 denier")), tex(Q("100 g") / Q("400 m")), tex(Q("50 g") / Q("230 yd")), tex(Q("1.75 oz") / Q("191 yd")))
/// '
/// 29.527062 71.428571 73.817656
/// 250.0 250.0 250.0 237.742021 284.062707
/// ```
#[test]
fn yarn_counts_agree_with_pint() {
    for (text, pint) in [
        ("20 NeC", 29.527062),
        ("NeC 20", 29.527062),
        ("Nm 2/28", 71.428571),
        ("28/2 Nm", 71.428571),
        ("2/24 NeW", 73.817656),
        ("2500 dtex", 250.0),
        ("2250 den", 250.0),
        ("2250 denier", 250.0),
        ("250 tex", 250.0),
        ("400 m/100 g", 250.0),
        ("230 yd/50 g", 237.742021),
        ("191 yd/1.75 oz", 284.062707),
    ] {
        close(text, tex(text), pint, 1e-7);
    }
}

/// The same counts by hand, from ISO 1144 and the hanks of 840 and 560 yd a pound.
#[test]
fn yarn_counts_by_the_published_factors() {
    close("cotton", tex("20 NeC"), 590.541 / 20.0, 1e-4);
    close("worsted", tex("2/24 NeW"), 885.812 * 2.0 / 24.0, 1e-4);
    close("metric", tex("Nm 2/28"), 2.0 * 1000.0 / 28.0, 1e-12);
    // Stated on balls: 78 g of a sock yarn of 400 m/100 g run to 312 m.
    let sock: YarnCount = "400 m/100 g".parse().expect("a count");
    close("312 m", sock.mm_in(78.0), 312_000.0, 1e-12);
    close("and back", sock.grams_of(312_000.0), 78.0, 1e-12);
    close("per 100 g", sock.metres_per_100_g(), 400.0, 1e-12);
}

#[test]
fn gauges_over_any_length() {
    for (text, expected) in [
        ("28 per 10 cm", 28.0),
        ("28/10cm", 28.0),
        ("7 per in", 7.0 / 2.54 * 10.0),
        ("28 sts / 4 in", 28.0 / 10.16 * 10.0),
        ("40 rows per 100 mm", 40.0),
        ("10 1/2 per in", 10.5 / 2.54 * 10.0),
    ] {
        close(text, per_10_cm(text), expected, 1e-12);
    }
    let gauge: PerTen = "28 per 10 cm".parse().expect("a gauge");
    close("pitch", gauge.pitch_mm(), 100.0 / 28.0, 1e-12);
    close("per mm", gauge.per_mm(), 0.28, 1e-12);
}

#[test]
fn fractions_are_read_as_rulers_show_them() {
    for (text, expected) in [
        ("10 1/2 in", 266.7),
        ("1/2 in", 12.7),
        ("10 1/2\"", 266.7),
        ("3/8 inch", 9.525),
        ("56\u{a0}cm", 560.0),
        ("  56cm ", 560.0),
    ] {
        close(text, mm(text), expected, 1e-12);
    }
    close("2 3/4 oz", grams("2 3/4 oz"), 2.75 * 28.349_523_125, 1e-12);
}

#[test]
fn cells_are_printed_for_people() {
    assert_eq!(LengthUnit::Cm.show(513.0), "51.3 cm");
    assert_eq!(LengthUnit::In.show(513.0), "20 1/4 in");
    assert_eq!(LengthUnit::Cm.cell(0.0), "0.0");
    // A deviation that rounds to nothing has no sign.
    assert_eq!(LengthUnit::Cm.cell(-0.2), "0.0");
    assert_eq!(LengthUnit::In.cell(-1.0), "0");
    assert_eq!(LengthUnit::Cm.cell(-12.0), "-1.2");
}

type Reader = fn(&str) -> Result<(), UnitError>;

const LENGTH: Reader = |text| text.parse::<Length>().map(drop);
const MASS: Reader = |text| text.parse::<Mass>().map(drop);
const COUNT: Reader = |text| text.parse::<YarnCount>().map(drop);
const GAUGE: Reader = |text| text.parse::<PerTen>().map(drop);

/// What is refused, with a part of the message and of the hint.
#[test]
fn a_comma_parts_decimals_as_a_point_does() {
    for (comma, point) in [
        ("13,4 cm", "13.4 cm"),
        ("13,45cm", "13.45cm"),
        ("0,125 m", "0.125 m"),
        ("1234,567 mm", "1234.567 mm"),
        ("5,25 in", "5.25 in"),
    ] {
        assert_eq!(mm(comma), mm(point), "{comma}");
    }
    assert_eq!(grams("34,5 g"), 34.5);
    assert_eq!(grams("0,034 kg"), 34.0);
    assert_eq!(tex("420,5 m/100 g"), tex("420.5 m/100 g"));
    assert_eq!(tex("Nm 2/28,5"), tex("Nm 2/28.5"));
    assert_eq!(per_10_cm("28,5 per 10 cm"), 28.5);
    assert_eq!(units::parse_share("2,5 %"), Some(0.025));
    assert_eq!(units::parse_number("\u{2212}2,5"), Some(-2.5));
    assert_eq!(units::parse_number("1,500"), None);
    let blend: knit::stash::Blend = "37,5 % wool, 62,5 % cotton".parse().expect("a blend");
    assert_eq!(blend.parts().iter().map(|(_, share)| *share).collect::<Vec<_>>(), [37.5, 62.5]);
}

#[test]
fn readings_are_parted_by_blanks_and_semicolons_never_by_a_decimal_comma() {
    let table: &[(&str, &[&str])] = &[
        ("13,4", &["13.4"]),
        ("13,4 13,5 13,4", &["13.4", "13.5", "13.4"]),
        ("13,4; 13,5;13,4", &["13.4", "13.5", "13.4"]),
        ("13,4, 13,5, 13,4", &["13.4", "13.5", "13.4"]),
        ("13.4, 13.5, 13.4", &["13.4", "13.5", "13.4"]),
        ("13.4,13.5,13.4", &["13.4", "13.5", "13.4"]),
        ("14.3 cm,14.2 cm", &["14.3 cm", "14.2 cm"]),
        ("14,3 cm,14,2 cm", &["14.3 cm", "14.2 cm"]),
        ("14,3 cm 14,2 cm", &["14.3 cm", "14.2 cm"]),
        ("14,3cm\n14,2cm", &["14.3cm", "14.2cm"]),
        ("10 1/2 in 10 3/4 in", &["10 1/2 in", "10 3/4 in"]),
        ("10 1/2; 10 3/4", &["10 1/2", "10 3/4"]),
        ("5,25", &["5.25"]),
        ("9,8", &["9.8"]),
        ("40 41 42", &["40", "41", "42"]),
        (" ; , ", &[]),
        ("twelve", &["twelve"]),
    ];
    for (text, expected) in table {
        assert_eq!(units::readings(text).expect(text), *expected, "{text}");
    }
    for (text, hint) in [
        ("13,4,12", "`13.4; 12`"),
        ("13,4,13,5", "`13.4; 12`"),
        ("40,41,42", "`13.4; 12`"),
        ("13.4,13", "`13.4; 12`"),
        ("13,4.5", "`13.4; 12`"),
        ("13,14", "write `13.14` for one, `13; 14` for two"),
        ("13,4; 40,41", "write `40.41` for one, `40; 41` for two"),
        ("1,340", "write `1340`, or `1.340`"),
    ] {
        let fault = units::readings(text).expect_err(text);
        assert_eq!(fault.code, diag::Code::Doubtful, "{text}");
        assert!(fault.hint.contains(hint), "{text}: {}", fault.hint);
    }
}

#[test]
fn what_is_no_quantity_is_refused_with_a_hint() {
    let table: &[(Reader, &str, &str, &str)] = &[
        (LENGTH, "", "has no number in front", "begin with a number"),
        (LENGTH, "   ", "has no number in front", "begin with a number"),
        (LENGTH, "cm", "has no number in front", "begin with a number"),
        (LENGTH, "NaN cm", "`NaN cm` has no number in front", "begin with a number"),
        (LENGTH, "inf", "`inf` has no number in front", "begin with a number"),
        (LENGTH, "-5 cm", "`-5 cm` has no number in front", "leave the minus sign out"),
        (LENGTH, "\u{2212}5 cm", "has no number in front", "leave the minus sign out"),
        (LENGTH, "56", "`56` has no unit", "say which: `56 cm` or `56 in`"),
        (LENGTH, "56 cmm", "`cmm` is not a unit of length", "use mm, cm, m or in"),
        (LENGTH, "56 g", "`g` is not a unit of length", "use mm, cm, m or in"),
        (LENGTH, "1e3 cm", "is not a unit of length", "use mm, cm, m or in"),
        (LENGTH, "1,000 m", "`1,000` has a comma", "write `1000`, or `1.000`"),
        (LENGTH, "12,500 cm", "`12,500` has a comma", "write `12500`, or `12.500`"),
        (LENGTH, "13,4,12 cm", "`13,4,12` can be read in more ways", "`13.4; 12`"),
        (LENGTH, "1.000,5 m", "`1.000,5` can be read in more ways", "with a point"),
        (LENGTH, "2, 5 cm", "`, 5 cm` is not a unit of length", "use mm, cm, m or in"),
        (LENGTH, "5.2.1 cm", "`5.2.1` is not a number", "write it like `12.5`"),
        (LENGTH, "10 3/2 in", "fraction that can't be read", "`10 1/2 in`"),
        (LENGTH, "10 1/0 in", "fraction that can't be read", "`10 1/2 in`"),
        (LENGTH, "1000000 m", "beyond anything knitted", "check the unit"),
        (MASS, "", "has no number in front", "begin with a number"),
        (MASS, "78", "`78` has no unit", "say which: `78 g` or `78 oz`"),
        (MASS, "78 cm", "`cm` is not a unit of mass", "use g, kg or oz"),
        (MASS, "-1 g", "has no number in front", "leave the minus sign out"),
        (MASS, "2,500 g", "`2,500` has a comma", "write `2500`, or `2.500`"),
        (MASS, "5000 kg", "beyond anything knitted", "check the unit"),
        (COUNT, "", "`` is not a yarn count", "400 m/100 g"),
        (COUNT, "250", "`250` is not a yarn count", "250 tex"),
        (COUNT, "NaN tex", "`NaN tex` is not a yarn count", "400 m/100 g"),
        (COUNT, "inf tex", "`inf tex` is not a yarn count", "400 m/100 g"),
        (COUNT, "-250 tex", "`-250 tex` is not a yarn count", "400 m/100 g"),
        (COUNT, "0 tex", "`0 tex` is not a yarn count", "400 m/100 g"),
        (COUNT, "2/0 Nm", "is not a yarn count", "400 m/100 g"),
        (COUNT, "0.1 tex", "0.1 tex is no knitting yarn", "check the unit"),
        (COUNT, "400 m/100", "is not a yarn count", "400 m/100 g"),
        (COUNT, "400 m/100 cm", "`cm` is not a unit of mass", "use g, kg or oz"),
        (COUNT, "400 g/100 g", "`g` is not a unit of length", "use mm, cm, m or in"),
        (COUNT, "0 m/100 g", "`0 m/100 g` is not a yarn count", "400 m/100 g"),
        (COUNT, "NaN yd/100 g", "has no number in front", "begin with a number"),
        (COUNT, "-437 yd/100 g", "has no number in front", "leave the minus sign out"),
        (COUNT, "1,400 m/100 g", "`1,400` has a comma", "write `1400`, or `1.400`"),
        (COUNT, "4 m/100 g", "25000 tex is no knitting yarn", "check the unit"),
        (GAUGE, "", "`` is not a gauge", "`28 per 10 cm`"),
        (GAUGE, "28", "`28` is not a gauge", "`28 per 10 cm`"),
        (GAUGE, "28 per 0 cm", "is not a gauge", "`28 per 10 cm`"),
        (GAUGE, "28 purls per 10 cm", "is not a gauge", "`28 per 10 cm`"),
        (GAUGE, "NaN per 10 cm", "has no number in front", "begin with a number"),
        (GAUGE, "-28 per 10 cm", "has no number in front", "leave the minus sign out"),
        (GAUGE, "28 per 10 g", "`g` is not a unit of length", "use mm, cm, m or in"),
        (GAUGE, "28 per 10 mm", "280 per 10 cm is no gauge", "check the unit"),
        (GAUGE, "28 per 10 m", "0.28 per 10 cm is no gauge", "check the unit"),
    ];
    for (read, text, message, hint) in table {
        let error = match read(text) {
            Err(error) => error,
            Ok(()) => panic!("`{text}` was taken"),
        };
        assert!(error.message.contains(message), "`{text}`: {} / {message}", error.message);
        assert!(error.hint.contains(hint), "`{text}`: {} / {hint}", error.hint);
    }
}

#[test]
fn numbers_that_are_none_never_get_in_by_the_side_door() {
    for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, -1.0] {
        assert!(Length::from_mm(bad).is_err(), "{bad}");
        assert!(Mass::from_grams(bad).is_err(), "{bad}");
        assert!(YarnCount::from_tex(bad).is_err(), "{bad}");
        assert!(PerTen::new(bad).is_err(), "{bad}");
    }
    let error = Length::from_mm(f64::NAN).expect_err("not a number");
    assert_eq!(error.hint, "give a plain number");
}

proptest! {
    /// Printed in cm to a hundredth: back to half a tenth of a millimetre.
    #[test]
    fn lengths_read_back(value in 0.0..1.0e8f64) {
        let printed = Length::from_mm(value).expect("in range").to_string();
        let back = printed.parse::<Length>().expect("what we print we read").mm();
        prop_assert!((back - value).abs() <= 0.05 + 1e-7, "{value} as {printed} is {back}");
    }

    #[test]
    fn masses_read_back(value in 0.0..1.0e6f64) {
        let printed = Mass::from_grams(value).expect("in range").to_string();
        let back = printed.parse::<Mass>().expect("what we print we read").grams();
        prop_assert!((back - value).abs() <= 0.005 + 1e-9, "{value} as {printed} is {back}");
    }

    #[test]
    fn counts_read_back(value in 1.0..20_000.0f64) {
        let printed = YarnCount::from_tex(value).expect("in range").to_string();
        let back = printed.parse::<YarnCount>().expect("what we print we read").tex();
        prop_assert!((back - value).abs() <= 0.005 + 1e-9, "{value} as {printed} is {back}");
    }

    #[test]
    fn gauges_read_back(value in 4.0..120.0f64) {
        let printed = PerTen::new(value).expect("in range").to_string();
        let back = printed.parse::<PerTen>().expect("what we print we read").per_10_cm();
        prop_assert!((back - value).abs() <= 0.005 + 1e-9, "{value} as {printed} is {back}");
    }

    /// No text, however odd, breaks a parser or yields something that is no quantity.
    #[test]
    fn any_text_is_read_or_refused(text in r#"[-+0-9./, a-zA-Z"½µ]{0,24}"#) {
        if let Ok(length) = text.parse::<Length>() {
            prop_assert!(length.mm().is_finite() && length.mm() >= 0.0);
        }
        if let Ok(mass) = text.parse::<Mass>() {
            prop_assert!(mass.grams().is_finite() && mass.grams() >= 0.0);
        }
        if let Ok(count) = text.parse::<YarnCount>() {
            prop_assert!((1.0..=20_000.0).contains(&count.tex()));
        }
        if let Ok(gauge) = text.parse::<PerTen>() {
            prop_assert!((PerTen::LEAST..=PerTen::MOST).contains(&gauge.per_10_cm()));
        }
    }
}
