// Tags seen by the camera, where the browser can read them itself and the page came by https.

const EVERY_MS = 250;
const SAME_TAG_MS = 4000; // one tag held before the camera is one scan

export async function liveCamera(button, eye, video, found, said) {
  if (!window.isSecureContext || !navigator.mediaDevices || !("BarcodeDetector" in window)) return;
  if (!(await BarcodeDetector.getSupportedFormats()).includes("qr_code")) return;
  const detector = new BarcodeDetector({ formats: ["qr_code"] });
  const seenAt = new Map();
  let stream = null;

  async function see() {
    if (video.readyState >= HTMLMediaElement.HAVE_CURRENT_DATA) {
      for (const { rawValue } of await detector.detect(video)) {
        const before = seenAt.get(rawValue) ?? -Infinity;
        seenAt.set(rawValue, performance.now());
        if (performance.now() - before > SAME_TAG_MS) found(rawValue);
      }
    }
  }

  async function look() {
    if (!stream) return;
    try {
      await see();
    } catch {
      if (!stream) return; // stopped meanwhile
      stop();
      return said("The camera sees nothing any more: use it anew, or take a picture of the tags.");
    }
    setTimeout(look, EVERY_MS);
  }

  function stop() {
    for (const track of stream?.getTracks() ?? []) track.stop();
    stream = null;
    eye.hidden = true;
    button.textContent = "Use the camera";
  }

  async function start() {
    button.disabled = true; // a second touch would open it twice
    try {
      stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
      video.srcObject = stream;
      eye.hidden = false;
      button.textContent = "Stop the camera";
      await video.play();
      look();
    } catch {
      stop();
      said("The camera cannot be used: allow it for this site in the browser, or take a picture of the tags.");
    } finally {
      button.disabled = false;
    }
  }

  button.hidden = false;
  button.addEventListener("click", () => (stream ? stop() : start()));
  window.addEventListener("pagehide", stop);
}
