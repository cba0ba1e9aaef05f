#!/usr/bin/python3
"""Drops a file on a window as a file manager would: the XDND protocol, version 5
(freedesktop.org), from a window of its own.

    drop.py WINDOW X Y FILE
"""
import pathlib
import sys
import time

from Xlib import X, Xatom, display
from Xlib.protocol import event

target_id, x, y, path = int(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3]), pathlib.Path(sys.argv[4]).resolve()
d = display.Display()
root = d.screen().root
source = root.create_window(0, 0, 1, 1, 0, d.screen().root_depth)
target = d.create_resource_object("window", target_id)
atom = d.intern_atom
LIST, COPY, SELECTION = atom("text/uri-list"), atom("XdndActionCopy"), atom("XdndSelection")
source.set_selection_owner(SELECTION, X.CurrentTime)


def send(kind, data):
    target.send_event(event.ClientMessage(window=target, client_type=atom(kind), data=(32, data)))
    d.flush()


def serve(until, seconds):
    """Answers requests for the list of files until a message of this kind comes."""
    end = time.time() + seconds
    while time.time() < end:
        while d.pending_events():
            e = d.next_event()
            if e.type == X.SelectionRequest:
                e.requestor.change_property(e.property, LIST, 8, (path.as_uri() + "\r\n").encode())
                e.requestor.send_event(
                    event.SelectionNotify(
                        time=e.time, requestor=e.requestor, selection=e.selection, target=e.target, property=e.property
                    )
                )
                d.flush()
            elif e.type == X.ClientMessage and e.client_type == atom(until):
                return True
        time.sleep(0.01)
    return False


send("XdndEnter", [source.id, 5 << 24, LIST, 0, 0])
send("XdndPosition", [source.id, 0, x << 16 | y, X.CurrentTime, COPY])
if not serve("XdndStatus", 20):
    sys.exit("the window does not answer to a file held over it")
send("XdndDrop", [source.id, 0, X.CurrentTime, 0, 0])
if not serve("XdndFinished", 20):
    sys.exit("the window did not take the file")
