#!/usr/bin/python3
"""Asks a window to close, as its title bar's button would: WM_DELETE_WINDOW of the X Consortium's ICCCM,
4.2.8.1. (Destroying the window from outside is no way that a user has.)

    close.py WINDOW
"""
import sys

from Xlib import X, display
from Xlib.protocol import event

d = display.Display()
window = d.create_resource_object("window", int(sys.argv[1]))
protocols, delete = d.intern_atom("WM_PROTOCOLS"), d.intern_atom("WM_DELETE_WINDOW")
supported = window.get_wm_protocols()
if delete not in supported:
    sys.exit("the window does not say that it can be asked to close")
window.send_event(event.ClientMessage(window=window, client_type=protocols, data=(32, [delete, X.CurrentTime, 0, 0, 0])))
d.flush()
