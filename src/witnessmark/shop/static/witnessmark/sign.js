// The owner signs on the tablet: what is drawn goes out as the photo of the signed paper would.
(() => {
  "use strict";
  document.querySelectorAll("[data-sign]").forEach((place) => {
    const input = place.querySelector("input[type=file]");
    const pad = place.querySelector("[data-pad]");
    const canvas = pad.querySelector("canvas");
    const ink = canvas.getContext("2d");
    let drawing = false;
    const wipe = () => {
      ink.fillStyle = "#fff";
      ink.fillRect(0, 0, canvas.width, canvas.height);
      input.value = "";
    };
    const at = (event) => {
      const box = canvas.getBoundingClientRect();
      return [(event.clientX - box.left) * canvas.width / box.width, (event.clientY - box.top) * canvas.height / box.height];
    };
    const send = () => {
      if (!drawing) return;
      drawing = false;
      const picture = Uint8Array.from(atob(canvas.toDataURL("image/png").split(",")[1]), (sign) => sign.charCodeAt(0));
      const files = new DataTransfer();
      files.items.add(new File([picture], "signature.png", { type: "image/png" }));
      input.files = files.files;
    };
    canvas.addEventListener("pointerdown", (event) => {
      canvas.setPointerCapture(event.pointerId);
      drawing = true;
      ink.lineWidth = 5;
      ink.lineCap = ink.lineJoin = "round";
      ink.strokeStyle = "#000";
      ink.beginPath();
      ink.moveTo(...at(event));
    });
    canvas.addEventListener("pointermove", (event) => {
      if (!drawing) return;
      ink.lineTo(...at(event));
      ink.stroke();
    });
    canvas.addEventListener("pointerup", send);
    canvas.addEventListener("pointercancel", send);
    pad.querySelector("button").addEventListener("click", wipe);
    wipe();
    pad.hidden = false;
  });
})();
