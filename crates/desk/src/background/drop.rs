//! Heavy values are dropped on a thread of their own: giving back the memory of a whole print takes a
//! system several milliseconds, more than a frame has.

use std::sync::OnceLock;
use std::sync::mpsc::{Sender, channel};
use std::thread;

/// Drops something heavy on a thread of its own.
pub fn drop_in_background<T: Send + 'static>(heavy: T) {
    type Heavy = Box<dyn Send>;
    static AWAY: OnceLock<Option<Sender<Heavy>>> = OnceLock::new();
    let away = AWAY.get_or_init(|| {
        let (send, gone) = channel::<Heavy>();
        let body = move || gone.into_iter().for_each(drop);
        // Without the thread they are dropped here, which only costs time.
        thread::Builder::new().name("drop".to_owned()).spawn(body).ok().map(|_| send)
    });
    if let Some(away) = away {
        // The thread ends with the program; what cannot be sent then is dropped here.
        let _ = away.send(Box::new(heavy));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::time::Duration;

    #[test]
    fn it_happens_on_another_thread() {
        struct Heavy(Sender<thread::ThreadId>);
        impl Drop for Heavy {
            fn drop(&mut self) {
                self.0.send(thread::current().id()).ok();
            }
        }
        let (send, gone) = channel();
        drop_in_background(Heavy(send));
        assert_ne!(gone.recv_timeout(Duration::from_secs(20)), Ok(thread::current().id()));
    }
}
