use super::*;

#[test]
fn the_table_is_in_the_order_of_the_limits_and_its_defaults_are_allowed() {
    for (place, spec) in Limit::TABLE.iter().enumerate() {
        assert_eq!(spec.limit as usize, place, "{}", spec.name);
        let mut layer = LimitsLayer::default();
        assert_eq!(layer.set(spec.name, spec.default), Ok(()), "{}", spec.name);
    }
}

#[test]
fn a_value_out_of_range_is_refused_with_the_range() {
    let mut layer = LimitsLayer::default();
    let refusal = layer.set("still_zone", Some(12.0)).unwrap_err().to_string();
    assert_eq!(refusal, "still_zone is 12, expected 0 to 0.5");
    assert!(layer.set("fits_share", Some(f64::NAN)).is_err());
    assert!(layer.set("fits_share", None).is_err());
    assert_eq!(layer.set("pan_hard", None), Ok(()));
}

#[test]
fn a_misspelt_limit_is_answered_with_the_nearest_name() {
    let refusal = LimitsLayer::default().set("max_enlargement", Some(1.0)).unwrap_err().to_string();
    assert!(refusal.contains("greatest_enlargement"), "{refusal}");
}
