//! What was worked out, kept for whoever asks for the same again, as long as there is room.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// Values by key; those not asked for longest go first. Which are there never changes what is worked out,
/// only how long it takes.
#[derive(Debug)]
pub(crate) struct Kept<K, V> {
    most_bytes: usize,
    state: Mutex<State<K, V>>,
}

#[derive(Debug)]
struct State<K, V> {
    entries: BTreeMap<K, Entry<V>>,
    /// Keys by when they were last asked for.
    by_age: BTreeMap<u64, K>,
    clock: u64,
    bytes: usize,
}

#[derive(Debug)]
struct Entry<V> {
    value: Arc<V>,
    bytes: usize,
    asked: u64,
}

impl<K: Ord + Copy, V> Kept<K, V> {
    /// Room for so many bytes.
    pub(crate) fn new(most_bytes: usize) -> Self {
        let (entries, by_age) = (BTreeMap::new(), BTreeMap::new());
        Self { most_bytes, state: Mutex::new(State { entries, by_age, clock: 0, bytes: 0 }) }
    }

    /// What is kept under a key.
    pub(crate) fn get(&self, key: K) -> Option<Arc<V>> {
        let mut state = self.lock();
        state.clock += 1;
        let State { entries, by_age, clock, .. } = &mut *state;
        let entry = entries.get_mut(&key)?;
        by_age.remove(&entry.asked);
        by_age.insert(*clock, key);
        entry.asked = *clock;
        Some(Arc::clone(&entry.value))
    }

    /// Keeps a value that takes so many bytes, in place of what was there.
    pub(crate) fn put(&self, key: K, value: Arc<V>, bytes: usize) {
        if bytes > self.most_bytes {
            return;
        }
        let mut state = self.lock();
        state.drop_entry(&key);
        while state.bytes + bytes > self.most_bytes {
            let Some(oldest) = state.by_age.first_key_value().map(|(_, key)| *key) else { break };
            state.drop_entry(&oldest);
        }
        state.clock += 1;
        let asked = state.clock;
        state.bytes += bytes;
        state.by_age.insert(asked, key);
        state.entries.insert(key, Entry { value, bytes, asked });
    }

    fn lock(&self) -> MutexGuard<'_, State<K, V>> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl<K: Ord, V> State<K, V> {
    fn drop_entry(&mut self, key: &K) {
        if let Some(entry) = self.entries.remove(key) {
            self.by_age.remove(&entry.asked);
            self.bytes -= entry.bytes;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn there_is_room_for_what_was_asked_for_last_and_no_more() {
        let kept = Kept::new(30);
        for key in 0..3 {
            kept.put(key, Arc::new(key * 10), 10);
        }
        assert_eq!(kept.get(0).as_deref(), Some(&0)); // now 1 is the oldest
        kept.put(3, Arc::new(30), 15);
        let there = [0, 1, 2, 3].map(|key| kept.get(key).is_some());
        assert_eq!(there, [true, false, false, true]);
        kept.put(4, Arc::new(40), 31);
        assert!(kept.get(4).is_none() && kept.get(0).is_some());
        kept.put(0, Arc::new(7), 10);
        assert_eq!(kept.get(0).as_deref(), Some(&7));
        assert_eq!(kept.lock().bytes, 25);
    }
}
