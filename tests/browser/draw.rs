//! Dice that fall the same way each time.

/// The numbers of one seed (xorshift by Marsaglia, 2003), so that a run can be repeated.
pub struct Draw(u64);

impl Draw {
    /// The first numbers of a small seed are small too, so they are left out.
    pub fn of(seed: u64) -> Self {
        let mut draw = Self(seed.max(1));
        for _ in 0..16 {
            draw.below(2);
        }
        draw
    }

    /// A number from 0 to below `most`.
    pub fn below(&mut self, most: u64) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0 % most
    }

    /// The same things in another order.
    pub fn shuffled<T: Copy>(&mut self, all: &[T]) -> Vec<T> {
        let mut all = all.to_vec();
        for at in (1..all.len()).rev() {
            all.swap(at, self.below(at as u64 + 1) as usize);
        }
        all
    }
}
