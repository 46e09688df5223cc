//! How much cloth there is, and what lies behind the rim of a bag.

use super::Net;

/// The cloth between the tip and the rim, in square millimetres: not what hangs down behind the rim.
pub(super) fn cover(net: &Net, tip: u32, from_rim: &[f64]) -> f64 {
    let beyond = beyond(net, from_rim, &net.distances(&[tip]));
    squares(net).into_iter().zip(beyond).filter(|(_, beyond)| !beyond).map(|(own, _)| own).sum()
}

/// By node, whether the way to it from the tip leads past the rim: only where the rim lies inside, as in a hem.
pub(super) fn beyond(net: &Net, from_rim: &[f64], from_tip: &[f64]) -> Vec<bool> {
    let neighbours = net.neighbours();
    let mut order: Vec<usize> = (0..net.len()).filter(|n| from_rim[*n].is_finite()).collect();
    order.sort_by(|a, b| from_rim[*a].total_cmp(&from_rim[*b]));
    // By node, the way from the tip to the node of the rim that it is nearest to.
    let mut rim = from_tip.to_vec();
    let mut is = vec![false; net.len()];
    for n in order.into_iter().filter(|n| from_rim[*n] > 0.0) {
        let own = neighbours[n].iter().map(|(other, _)| *other as usize);
        let nearer = own.min_by(|a, b| from_rim[*a].total_cmp(&from_rim[*b]));
        rim[n] = nearer.map_or(from_tip[n], |nearer| rim[nearer]);
        is[n] = from_tip[n] > rim[n] + 0.5 * from_rim[n];
    }
    is
}

/// By node, the cloth about it, in square millimetres.
pub(super) fn squares(net: &Net) -> Vec<f64> {
    let square = |own: &[(u32, u32)]| {
        own.iter().map(|(_, spring)| net.springs[*spring as usize].rest_mm.powi(2)).sum::<f64>()
            / 4.0
    };
    net.neighbours().iter().map(square).collect()
}
