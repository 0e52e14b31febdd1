// Scanning a label by the camera, where the browser can read codes itself; elsewhere the code is typed.
"use strict";

(() => {
  const button = document.querySelector("[data-scan]");
  const video = document.querySelector("[data-scanned]");
  if (!button || !video || !("BarcodeDetector" in window) || !navigator.mediaDevices) return;
  button.hidden = false;
  let stream = null;

  const stop = () => {
    for (const track of stream ? stream.getTracks() : []) track.stop();
    stream = null;
    video.hidden = true;
    button.textContent = "scan";
  };

  // A label holds the address of its item; only our own /i/CODE, or a bare code, is followed.
  const follow = (text) => {
    const found = /^(?:https?:\/\/[^/?#]+)?\/?(?:i\/)?([A-Za-z0-9-]{3,20})$/.exec(text.trim());
    if (!found) return false;
    stop();
    location.assign(`${video.dataset.scanned || "/i/"}${encodeURIComponent(found[1])}`);
    return true;
  };

  const look = async (detector) => {
    if (!stream) return;
    try {
      for (const code of await detector.detect(video)) if (follow(code.rawValue)) return;
    } catch { /* the camera has no picture yet */ }
    setTimeout(look, 150, detector);
  };

  button.addEventListener("click", async () => {
    if (stream) return stop();
    try {
      stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
      video.srcObject = stream;
      video.hidden = false;
      button.textContent = "stop";
      await video.play();
      look(new BarcodeDetector({ formats: ["qr_code"] }));
    } catch {
      stop();
      button.disabled = true;
      button.textContent = "no camera";
    }
  });
})();
