//! The colour of a value, the same as the shield's.

use crate::page::model::Scale;

/// sRGB of a value on a scale.
pub fn rgb(scale: &Scale, value: f64) -> [u8; 3] {
    use crate::page::model::ScaleKind;
    const GLOW: [u32; 16] = [
        0x233242, 0x363755, 0x4e3c60, 0x653f69, 0x7d436e, 0x95486d, 0xac4e6a, 0xc15564, 0xd2615b, 0xe16f52, 0xea814b, 0xf09549, 0xf4a94d, 0xf3bd5c,
        0xf2d17f, 0xf0e3a1,
    ];
    const SHORT: [u32; 6] = [0x4e0712, 0x5f0c14, 0x701117, 0x821618, 0x941d18, 0xa52712];
    const SPARE: [u32; 10] = [0x4b86b3, 0x5792b8, 0x639fbd, 0x6fabc2, 0x7db7c6, 0x8ec2ca, 0xa0cdcf, 0xb2d7d4, 0xc6e1db, 0xdbebe3];
    let pick = |row: &[u32], share: f64| {
        let at = share.clamp(0.0, 1.0) * (row.len() - 1) as f64;
        let (a, b) = (row[at as usize], row[(at as usize + 1).min(row.len() - 1)]);
        let f = at.fract();
        let mix = |shift: u32| ((a >> shift & 255) as f64 * (1.0 - f) + (b >> shift & 255) as f64 * f) as u8;
        [mix(16), mix(8), mix(0)]
    };
    match scale.kind {
        ScaleKind::Margin if value < 0.0 => pick(&SHORT, 1.0 - value / scale.low),
        ScaleKind::Margin => pick(&SPARE, value / scale.high),
        ScaleKind::Temperature => pick(&GLOW, (value - scale.low) / (scale.high - scale.low)),
        ScaleKind::Condition => [[0xcd, 0xd1, 0xd3]; 5].into_iter().chain([[0xf4, 0xa9, 0x4d], [0xe1, 0x6f, 0x52], [0xac, 0x4e, 0x6a], [0x82, 0x16, 0x18]]).nth(value as usize).unwrap_or_default(),
        ScaleKind::Regime => pick(&GLOW, 0.1 + 0.4 * value),
    }
}
