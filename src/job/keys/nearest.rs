//! Guesses which key was meant by one that is not known.

/// The known key that differs from `unknown` by a few typing slips or by a missing suffix such as `_m`; `None` where there is none. One
/// slip is allowed, and one more for every four letters.
pub(super) fn nearest(unknown: &str, known: &[&'static str]) -> Option<&'static str> {
    let lower = unknown.to_lowercase();
    let allowed = 1 + lower.chars().count() / 4;
    known
        .iter()
        .map(|key| {
            let stem = key.rsplit_once('_').map_or(*key, |(stem, _)| stem);
            let distance = if lower == stem || lower.strip_suffix('s') == Some(stem) {
                0
            } else {
                slips(&lower, key).min(slips(&lower, stem) + 1)
            };
            (distance, *key)
        })
        .filter(|(distance, _)| *distance <= allowed)
        .min()
        .map(|(_, key)| key)
}

/// The least number of typing slips that turn one word into the other: letters added, lost, changed or swapped with their neighbour
/// (optimal string alignment distance).
fn slips(a: &str, b: &str) -> usize {
    let a: Vec<char> = a.chars().collect();
    let b: Vec<char> = b.chars().collect();
    let mut before: Vec<usize> = Vec::new();
    let mut above: Vec<usize> = (0..=b.len()).collect();
    for (i, from) in a.iter().enumerate() {
        let mut row = vec![i + 1];
        for (j, to) in b.iter().enumerate() {
            let at = |row: &[usize], j: usize| row.get(j).copied().unwrap_or(usize::MAX / 2);
            let mut best = (at(&above, j) + usize::from(from != to))
                .min(at(&above, j + 1) + 1)
                .min(at(&row, j) + 1);
            let swapped = i > 0 && j > 0 && a.get(i - 1) == Some(to) && b.get(j - 1) == Some(from);
            if swapped {
                best = best.min(at(&before, j - 1) + 1);
            }
            row.push(best);
        }
        before = std::mem::replace(&mut above, row);
    }
    above.last().copied().unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nearest_known_key() {
        let known = ["carry_m", "carry_side", "files", "width_m"];
        assert_eq!(nearest("width", &known), Some("width_m"));
        assert_eq!(nearest("file", &known), Some("files"));
        assert_eq!(nearest("cary_m", &known), Some("carry_m"));
        assert_eq!(nearest("zebra", &known), None);
    }
}
