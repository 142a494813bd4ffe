// The screen kept awake while something is played, where the browser can do that.

/** Whether this browser, at this address, can keep the screen awake (only secure addresses can). */
export function canStayAwake() {
  return "wakeLock" in navigator;
}

let wanted = false;
let lock = null;
let asking = false;

/** Keep the screen awake from now on, or no longer. */
export function stayAwake(awake) {
  wanted = awake;
  void settle();
}

async function settle() {
  if (!canStayAwake() || asking) return;
  if (wanted && lock === null && !document.hidden) {
    asking = true;
    try {
      lock = await navigator.wakeLock.request("screen");
      lock.addEventListener("release", () => { lock = null; }); // by the system, as when the page is hidden
    } catch {
      lock = null; // a low battery: asked again when the page is next looked at
    }
    asking = false;
    if (!wanted) await settle();
  } else if (!wanted && lock !== null) {
    const held = lock;
    lock = null;
    await held.release().catch(() => {});
  }
}

document.addEventListener("visibilitychange", () => void settle());
