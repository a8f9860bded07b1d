// Keeps the screen on during a take where the browser can. Failure is no trouble: the take is watched anyway.

export function keepAwake(): () => void {
  let held: WakeLockSentinel | undefined;
  let wanted = true;
  const ask = async () => {
    if (!wanted || document.visibilityState !== 'visible') return;
    try {
      held = await navigator.wakeLock?.request('screen');
      if (!wanted) await held?.release();
    } catch {
      held = undefined;
    }
  };
  void ask();
  // The browser gives the lock up when the page goes out of sight.
  document.addEventListener('visibilitychange', ask);
  return () => {
    wanted = false;
    document.removeEventListener('visibilitychange', ask);
    void held?.release().catch(() => undefined);
  };
}
