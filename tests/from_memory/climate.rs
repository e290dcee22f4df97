//! The moisture content of wood against the whole of the Wood Handbook's table, as remembered.

use evenhand_core::analysis::climate::Air;

/// Wood Handbook, FPL-GTR-282, 2021, table 4-2: moisture content in per cent at relative humidities of 5, 10,
/// … 95 %, by temperature in °C. From memory, except for the cells in `tests/published/climate.rs`.
#[rustfmt::skip]
const TABLE: [(f64, [f64; 19]); 10] = [
    (-1.1, [1.4, 2.6, 3.7, 4.6, 5.5, 6.3, 7.1, 7.9, 8.7, 9.5, 10.4, 11.3, 12.4, 13.5, 14.9, 16.5, 18.5, 21.0, 24.3]),
    (4.4, [1.4, 2.6, 3.7, 4.6, 5.5, 6.3, 7.1, 7.9, 8.7, 9.5, 10.4, 11.3, 12.3, 13.5, 14.9, 16.5, 18.5, 21.0, 24.3]),
    (10.0, [1.4, 2.6, 3.6, 4.6, 5.5, 6.3, 7.1, 7.9, 8.7, 9.5, 10.3, 11.2, 12.3, 13.4, 14.8, 16.4, 18.4, 20.9, 24.3]),
    (15.6, [1.3, 2.5, 3.6, 4.6, 5.4, 6.2, 7.0, 7.8, 8.6, 9.4, 10.2, 11.1, 12.1, 13.3, 14.6, 16.2, 18.2, 20.7, 24.1]),
    (21.1, [1.3, 2.5, 3.5, 4.5, 5.4, 6.2, 6.9, 7.7, 8.5, 9.2, 10.1, 11.0, 12.0, 13.1, 14.4, 16.0, 17.9, 20.5, 23.9]),
    (26.7, [1.3, 2.4, 3.5, 4.4, 5.3, 6.1, 6.8, 7.6, 8.3, 9.1, 9.9, 10.8, 11.7, 12.9, 14.2, 15.7, 17.7, 20.2, 23.6]),
    (32.2, [1.2, 2.3, 3.4, 4.3, 5.1, 5.9, 6.7, 7.4, 8.1, 8.9, 9.7, 10.5, 11.5, 12.6, 13.9, 15.4, 17.3, 19.8, 23.3]),
    (37.8, [1.2, 2.3, 3.3, 4.2, 5.0, 5.8, 6.5, 7.2, 7.9, 8.7, 9.5, 10.3, 11.2, 12.3, 13.6, 15.1, 17.0, 19.5, 22.9]),
    (43.3, [1.1, 2.2, 3.2, 4.0, 4.9, 5.6, 6.3, 7.0, 7.7, 8.4, 9.2, 10.0, 11.0, 12.0, 13.2, 14.7, 16.6, 19.1, 22.4]),
    (48.9, [1.1, 2.1, 3.0, 3.9, 4.7, 5.4, 6.1, 6.8, 7.5, 8.2, 8.9, 9.7, 10.6, 11.7, 12.9, 14.4, 16.2, 18.6, 22.0]),
];

/// How far every cell of the table is from the equation: 190 of them.
fn differences() -> Vec<f64> {
    let rows = TABLE.iter().flat_map(|(celsius, row)| {
        (1..).zip(row).map(|(i, cell)| {
            let humidity = f64::from(5 * i);
            let air = Air {
                celsius: *celsius,
                humidity,
            };
            (air.moisture_content().unwrap() - cell).abs()
        })
    });
    rows.collect()
}

#[test]
fn the_equation_gives_the_table_to_its_rounding() {
    let differences = differences();
    assert_eq!(differences.len(), 190);
    let to_rounding = differences.iter().filter(|d| **d <= 0.05).count();
    // In six cells the equation lies up to 0.0075 beyond the rounding. One of them, 21.1 °C and 85 %, is so in the
    // book; whether the other five are misremembered cannot be told from here.
    assert_eq!(to_rounding, 184);
    assert!(differences.iter().all(|d| *d < 0.0575));
}
