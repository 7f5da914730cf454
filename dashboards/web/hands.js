// What hands do to the picture of a run: point, drag, pinch, turn the wheel, press keys. Distances are shares
// of the width that is drawn on.

const SLIP = 5; // px that a hand moves without meaning it (common practice, no source)

// hands listens on box. place(clientX) gives the share; to has point(share or null), pan(share), zoom(factor,
// share) and key(event).
export function hands(box, place, width, to) {
  const down = new Map(); // pointers that press, by id: where each is
  let began = null;
  let moved = false;

  box.addEventListener('pointerdown', (e) => {
    if (e.button > 0) return;
    down.set(e.pointerId, e.clientX);
    began = e.clientX;
    moved = down.size > 1;
  });
  box.addEventListener('pointermove', (e) => {
    if (!down.has(e.pointerId)) return to.point(place(e.clientX));
    const others = [...down].filter(([id]) => id !== e.pointerId).map(([, x]) => x);
    const before = down.get(e.pointerId);
    if (others.length === 1) pinch(others[0], before, e.clientX);
    else if (!others.length && (moved || Math.abs(e.clientX - began) > SLIP)) {
      if (!moved) box.setPointerCapture(e.pointerId);
      to.pan(((moved ? before : began) - e.clientX) / width());
      moved = true;
    }
    if (moved || others.length) down.set(e.pointerId, e.clientX);
  });
  const up = (e) => {
    if (down.delete(e.pointerId) && !moved && e.type === 'pointerup') to.point(place(e.clientX));
    moved = down.size > 0;
  };
  box.addEventListener('pointerup', up);
  box.addEventListener('pointercancel', up);
  box.addEventListener('pointerleave', (e) => { if (e.pointerType === 'mouse' && !down.size) to.point(null); });

  function pinch(other, before, after) {
    const apart = (x) => Math.max(20, Math.abs(x - other));
    to.zoom(apart(before) / apart(after), place((after + other) / 2) ?? 0.5);
    moved = true;
  }

  // The wheel belongs to the page until somebody is at work in the picture or holds Ctrl, as a pinch on a
  // touchpad does.
  box.addEventListener('wheel', (e) => {
    if (!e.ctrlKey && !e.metaKey && document.activeElement !== box) return;
    e.preventDefault();
    const lines = e.deltaMode === 1 ? 16 : 1;
    if (Math.abs(e.deltaX) > Math.abs(e.deltaY)) to.pan((e.deltaX * lines) / width());
    else if (e.shiftKey) to.pan((e.deltaY * lines) / width());
    else to.zoom(Math.exp(Math.max(-0.5, Math.min(0.5, e.deltaY * lines * 0.002))), place(e.clientX) ?? 0.5);
  }, { passive: false });

  box.addEventListener('keydown', (e) => {
    if (e.ctrlKey || e.metaKey || e.altKey) return;
    if (to.key(e)) e.preventDefault();
  });
}
