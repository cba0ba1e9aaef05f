//! What answers belong to. A key holds on to what it names, so an address stays its own as long as it
//! is compared.

use std::ops::Deref;
use std::sync::Arc;

/// Something by its identity: equal only to itself.
#[derive(Debug)]
pub struct Same<T>(pub Arc<T>);

impl<T> Clone for Same<T> {
    fn clone(&self) -> Self {
        Self(self.0.clone())
    }
}

impl<T> PartialEq for Same<T> {
    fn eq(&self, other: &Self) -> bool {
        Arc::ptr_eq(&self.0, &other.0)
    }
}

impl<T> Deref for Same<T> {
    type Target = T;

    fn deref(&self) -> &T {
        &self.0
    }
}

/// Something by its value, shared so that a copy costs nothing and most comparisons nothing either.
#[derive(Debug)]
pub struct Value<T>(Arc<T>);

impl<T> Value<T> {
    /// Shares it.
    pub fn new(value: T) -> Self {
        Self(Arc::new(value))
    }
}

impl<T> Clone for Value<T> {
    fn clone(&self) -> Self {
        Self(self.0.clone())
    }
}

impl<T: PartialEq> PartialEq for Value<T> {
    fn eq(&self, other: &Self) -> bool {
        Arc::ptr_eq(&self.0, &other.0) || *self.0 == *other.0
    }
}

impl<T> Deref for Value<T> {
    type Target = T;

    fn deref(&self) -> &T {
        &self.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_compares_identity_and_the_other_value() {
        let (a, b) = (Arc::new(5), Arc::new(5));
        assert!(Same(a.clone()) != Same(b) && Same(a.clone()) == Same(a));
        assert!(Value::new(5) == Value::new(5) && Value::new(5) != Value::new(6));
        // What is not equal to itself is still the same key.
        let nan = Value::new(f64::NAN);
        assert!(nan == nan.clone());
    }
}
