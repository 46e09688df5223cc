/// A number as a person would repeat it: one of hundreds of digits by its size.
pub(super) fn said(number: f64) -> String {
    if number == 0.0 || (1e-6..1e12).contains(&number.abs()) || !number.is_finite() {
        number.to_string()
    } else {
        format!("{number:e}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_number_fills_a_page() {
        assert_eq!([said(0.0), said(-3.0), said(36_000.5)], ["0", "-3", "36000.5"]);
        assert_eq!([said(1e308), said(-1e300), said(5e-324)], ["1e308", "-1e300", "5e-324"]);
        assert_eq!(said(f64::INFINITY), "inf");
    }
}
