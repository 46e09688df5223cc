use std::net::IpAddr;

use axum::http::HeaderMap;

/// Who is at the other end, as budgets count it: an address, or a whole network of 64 bits where it is
/// of the new kind, since one household has as many.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Peer(IpAddr);

impl From<IpAddr> for Peer {
    fn from(address: IpAddr) -> Peer {
        Peer(match address.to_canonical() {
            IpAddr::V6(v6) => IpAddr::V6((v6.to_bits() & !u128::from(u64::MAX)).into()),
            v4 => v4,
        })
    }
}

/// Whom a server in front says that it asks for: the last entry of the last `X-Forwarded-For`, the one
/// that this server itself wrote. What stands before it a visitor may have made up.
pub fn forwarded(headers: &HeaderMap) -> Option<Peer> {
    let last = headers.get_all("x-forwarded-for").iter().next_back()?.to_str().ok()?;
    let address = last.rsplit(',').next()?.trim();
    let bare = address.strip_prefix('[').and_then(|a| a.strip_suffix(']')).unwrap_or(address);
    bare.parse::<IpAddr>().ok().map(Peer::from)
}

#[cfg(test)]
mod tests {
    use axum::http::HeaderValue;

    use super::*;

    fn peer(text: &str) -> Peer {
        Peer::from(text.parse::<IpAddr>().expect("an address"))
    }

    #[test]
    fn a_household_counts_as_one() {
        assert_eq!(peer("2001:db8:1:2::7"), peer("2001:db8:1:2:ffff::1"));
        assert_ne!(peer("2001:db8:1:2::7"), peer("2001:db8:1:3::7"));
        assert_eq!(peer("::ffff:192.0.2.7"), peer("192.0.2.7"));
        assert_ne!(peer("192.0.2.7"), peer("192.0.2.8"));
    }

    #[test]
    fn only_what_the_server_in_front_wrote_is_believed() {
        let mut headers = HeaderMap::new();
        assert_eq!(forwarded(&headers), None);
        headers.append("x-forwarded-for", HeaderValue::from_static("10.0.0.1, 192.0.2.7"));
        assert_eq!(forwarded(&headers), Some(peer("192.0.2.7")));
        headers.append("x-forwarded-for", HeaderValue::from_static("[2001:db8::7]"));
        assert_eq!(forwarded(&headers), Some(peer("2001:db8::7")));
        headers.append("x-forwarded-for", HeaderValue::from_static("lamp.home"));
        assert_eq!(forwarded(&headers), None);
    }
}
