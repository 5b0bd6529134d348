//! Room for connections, shared out among peers.
//!
//! Input: who asks. Output: a [`Share`] while there is room. A peer may hold as many as it
//! leaves free: one alone gets half of all, and whoever comes then half of the rest.

use std::collections::BTreeMap;
use std::net::IpAddr;
use std::sync::{Arc, Mutex, PoisonError};

/// Room for so many.
#[derive(Debug)]
pub(super) struct Shares {
    most: usize,
    held: Mutex<BTreeMap<IpAddr, usize>>,
}

/// One of them, while it lives.
#[derive(Debug)]
pub(super) struct Share {
    of: Arc<Shares>,
    peer: IpAddr,
}

impl Shares {
    pub(super) fn of(most: usize) -> Self {
        Self {
            most,
            held: Mutex::default(),
        }
    }

    fn with<T>(&self, f: impl FnOnce(&mut BTreeMap<IpAddr, usize>) -> T) -> T {
        // A count is changed in one step.
        f(&mut self.held.lock().unwrap_or_else(PoisonError::into_inner))
    }

    /// How many are held.
    pub(super) fn taken(&self) -> usize {
        self.with(|held| held.values().sum())
    }
}

/// Peers that one owner can have by the thousand count as one: an IPv6 network of 64 bits.
fn owner(peer: IpAddr) -> IpAddr {
    match peer {
        IpAddr::V6(v6) if !v6.is_loopback() => {
            let bits = u128::from(v6) >> 64 << 64;
            v6.to_ipv4_mapped()
                .map_or(IpAddr::V6(bits.into()), IpAddr::V4)
        }
        other => other,
    }
}

impl Share {
    /// One more for a peer; `None` when it has its share or there is no room.
    pub(super) fn take(of: &Arc<Shares>, peer: IpAddr) -> Option<Self> {
        let peer = owner(peer);
        of.with(|held| {
            let free = of.most - held.values().sum::<usize>().min(of.most);
            let own = held.entry(peer).or_default();
            let fits = *own < free;
            if fits {
                *own += 1;
            } else if *own == 0 {
                held.remove(&peer);
            }
            fits
        })
        .then(|| Self {
            of: of.clone(),
            peer,
        })
    }
}

impl Drop for Share {
    fn drop(&mut self) {
        self.of.with(|held| {
            if let Some(own) = held.get_mut(&self.peer) {
                *own -= 1;
                if *own == 0 {
                    held.remove(&self.peer);
                }
            }
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_peer_cannot_take_the_room_of_others() {
        let all = Arc::new(Shares::of(16));
        let peer = |n: u8| IpAddr::from([10, 0, 0, n]);
        let take = |n: u8| std::iter::from_fn(|| Share::take(&all, peer(n))).collect::<Vec<_>>();
        let greedy = take(1);
        assert_eq!(greedy.len(), 8);
        let second = take(2);
        assert_eq!(second.len(), 4);
        assert!(Share::take(&all, peer(1)).is_none());
        assert!(Share::take(&all, peer(3)).is_some());
        drop(greedy);
        assert_eq!(all.taken(), 4);
        drop(second);
        assert_eq!(take(9).len(), 8);
    }

    #[test]
    fn a_network_of_one_owner_is_one_peer() {
        let at = |s: &str| owner(s.parse().expect("an address"));
        assert_eq!(at("2001:db8::1"), at("2001:db8::ffff:2"));
        assert_ne!(at("2001:db8::1"), at("2001:db8:0:1::1"));
        assert_eq!(at("::ffff:10.0.0.1"), at("10.0.0.1"));
    }
}
