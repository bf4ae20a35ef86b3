//! Lists of numbers of a document, for `deserialize_with`: serde's arrays take the first ones of a longer list.

use crate::setting::Setting as _;
use serde::{Deserialize, Deserializer};

/// A list of exactly `N` numbers, where the key may be left out.
pub(crate) fn some_numbers<'de, D: Deserializer<'de>, const N: usize>(
    deserializer: D,
) -> Result<Option<[f64; N]>, D::Error> {
    Option::<[f64; N]>::read(deserializer)
}

/// A list of such lists.
pub(crate) fn lists_of_numbers<'de, D: Deserializer<'de>, const N: usize>(
    deserializer: D,
) -> Result<Vec<[f64; N]>, D::Error> {
    struct Numbers<const N: usize>([f64; N]);

    impl<'de, const N: usize> Deserialize<'de> for Numbers<N> {
        fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
            <[f64; N]>::read(deserializer).map(Self)
        }
    }
    Vec::<Numbers<N>>::deserialize(deserializer).map(|lists| lists.into_iter().map(|list| list.0).collect())
}
