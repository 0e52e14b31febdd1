"""The style sheet of all pictures, for the page that holds one."""

from __future__ import annotations

__all__ = ["STYLE"]

STYLE = """
.fd { --fd-ink: var(--ink, #23201c); --fd-soft: var(--soft, #8b857b); --fd-paper: var(--paper, #fffdf8);
  --fd-accent: var(--accent, #4a44b8); --fd-mark: var(--mark, #a86a00);
  --fd-way: color-mix(in srgb, var(--fd-accent) 55%, var(--fd-paper));
  --fd-tint: color-mix(in srgb, var(--fd-soft) 16%, var(--fd-paper));
  --fd-shade: color-mix(in srgb, var(--fd-soft) 34%, var(--fd-paper));
  display: block; width: 100%; height: auto; font-family: inherit; }
.fd path, .fd line { stroke-linejoin: round; stroke-linecap: round; }
.fd-body, .fd-cloth, .fd-metal, .fd-dark { stroke: var(--fd-ink); stroke-width: 1.3; }
.fd-body { fill: var(--fd-paper); }
.fd-mesh { fill: var(--fd-paper); stroke: var(--fd-ink); stroke-width: 1.3; }
.fd-mesh-wire { fill: none; stroke: var(--fd-soft); stroke-width: 0.6; }
.fd-cloth { fill: var(--fd-tint); }
.fd-metal { fill: var(--fd-shade); }
.fd-bright { fill: color-mix(in srgb, var(--fd-soft) 8%, var(--fd-paper)); }
.fd-rubber { fill: color-mix(in srgb, var(--fd-soft) 62%, var(--fd-paper)); }
.fd-bright, .fd-rubber { stroke: var(--fd-ink); stroke-width: 1.1; }
.fd-fine { fill: none; stroke: var(--fd-ink); stroke-width: 0.7; }
.fd-axis { fill: none; stroke: var(--fd-soft); stroke-width: 0.7; stroke-dasharray: 7 2.5 1.5 2.5; }
.fd-leader-ground { fill: none; stroke: var(--fd-paper); stroke-width: 2.6; }
.fd-leader { fill: none; stroke: var(--fd-soft); stroke-width: 0.9; }
.fd-spot { fill: var(--fd-ink); }
.fd-plate { fill: none; stroke: var(--fd-accent); stroke-width: 1.6; }
.fd .fd-chosen-name { font-weight: 700; }
.fd-bench { fill: none; stroke: var(--fd-ink); stroke-width: 2; }
.fd .fd-through { stroke-width: 1; stroke: var(--fd-soft); stroke-dasharray: 1 3; }
.fd-window { fill: none; stroke: var(--fd-shade); stroke-width: 2.4; }
.fd-place { fill: none; stroke: var(--fd-mark); stroke-width: 3; }
.fd-cut-disc { fill: var(--fd-paper); stroke: var(--fd-mark); stroke-width: 2; }
.fd-open-end { fill: var(--fd-paper); stroke: var(--fd-accent); stroke-width: 2; }
.fd-dark { fill: var(--fd-ink); }
.fd-tie { fill: none; stroke: var(--fd-soft); stroke-width: 0.9; }
.fd-edge { fill: none; stroke: var(--fd-ink); stroke-width: 1; }
.fd-faint { fill: var(--fd-paper); stroke: var(--fd-soft); stroke-width: 1; }
.fd-line { fill: none; stroke: var(--fd-ink); stroke-width: 1.5; }
.fd-line-a { stroke-width: 2; }
.fd-line-b { stroke-dasharray: 6 3.4; }
.fd-line-c { stroke-width: 2.1; stroke-dasharray: 0.1 3.6; }
.fd .fd-line-cloth { stroke-width: 1; stroke: var(--fd-soft); stroke-dasharray: 3 2; }
.fd .fd-line-metal, .fd-line-m { stroke-width: 1.2; stroke: var(--fd-soft); }
.fd-item .fd-line-metal, .fd-item .fd-line-cloth, .fd-part .fd-line-metal, .fd-part .fd-line-cloth { stroke: none; }
.fd-text, .fd-word, .fd-letter, .fd-side { fill: var(--fd-ink); }
.fd-text, .fd-word, .fd-side { paint-order: stroke; stroke: var(--fd-paper); stroke-width: 3; stroke-linejoin: round; }
.fd-side { font-weight: 700; }
.fd-letter { font-weight: 700; }
.fd-letter-ground { fill: var(--fd-paper); }
.fd-badge { fill: var(--fd-mark); }
.fd-badge-text { fill: var(--fd-paper); font-weight: 700; }
.fd-square { fill: var(--fd-paper); stroke: var(--fd-ink); }
.fd-square-dead { fill: var(--fd-shade); }
.fd-square-hatch { fill: none; stroke: var(--fd-soft); stroke-width: 1.1; }
.fd-hatch { fill: none; stroke: var(--fd-mark); stroke-width: 1.4; }
.fd-ring { fill: none; stroke: var(--fd-mark); }
.fd .fd-ticks { fill: none; stroke: var(--fd-mark); stroke-width: 24; stroke-linecap: butt; opacity: 0.75; }
.fd-halo { fill: none; stroke: var(--fd-accent); stroke-width: 2; stroke-dasharray: 5 4; }
.fd-double { fill: none; stroke: var(--fd-accent); }
.fd-double-inside { fill: none; stroke: var(--fd-paper); }
.fd-way { fill: none; stroke: var(--fd-way); stroke-width: 6.4; }
.fd-item .fd-way, .fd-part .fd-way { stroke-width: 9; }
.fd-head { fill: none; stroke: var(--fd-accent); stroke-width: 2.4; }
.fd .fd-gap { fill: none; stroke: var(--fd-paper); stroke-width: 9; stroke-linecap: butt; }
.fd .fd-cross { fill: none; stroke: var(--fd-mark); stroke-width: 3; }
.fd-do { fill: none; stroke: var(--fd-accent); stroke-width: 2.2; }
.fd-strong { stroke-width: 3; }
.fd-contact { stroke-dasharray: 2 5; }
.fd-handle { stroke-width: 4; }
.fd-clip { fill: none; stroke: var(--fd-accent); stroke-width: 4; }
.fd-dot { fill: var(--fd-accent); }
.fd-lead { fill: none; stroke: var(--fd-accent); stroke-width: 1.8; }
.fd-tool { fill: var(--fd-paper); stroke: var(--fd-accent); stroke-width: 2; }
.fd-thin { fill: none; stroke: var(--fd-ink); stroke-width: 1.2; }
.fd-parted { fill: var(--fd-paper); }
.fd-do-word, .fd-cut-word { font-weight: 700; }
.fd-do-word { fill: var(--fd-accent); }
.fd .fd-touch { fill: none; stroke: transparent; pointer-events: stroke; }
.fd-touch-ground { fill: transparent; pointer-events: all; }
.fd-glass { fill: color-mix(in srgb, var(--fd-soft) 48%, var(--fd-paper)); stroke: var(--fd-ink); stroke-width: 1.2; }
.fd-lamp-red { fill: var(--lamp-red, #d3222a); }
.fd-lamp-green { fill: var(--lamp-green, #1f9d45); }
.fd-lamp-white { fill: var(--lamp-white, #ffffff); }
.fd-lamp-yellow { fill: var(--lamp-yellow, #f4cf1f); }
.fd-lamp-orange { fill: var(--lamp-orange, #f08a1d); }
.fd-lamp { stroke: var(--fd-ink); stroke-width: 1.6; }
.fd-rays { fill: none; stroke: var(--fd-ink); stroke-width: 2.4; }
.fd-lamp-letter { font-weight: 800; fill: #14110d; paint-order: stroke; stroke: #ffffff; stroke-width: 2.4; }
.fd a { cursor: pointer; text-decoration: none; }
.fd a:focus-visible { outline: 2px solid var(--fd-accent); outline-offset: 1px; }
.fd a:hover .fd-text { text-decoration: underline; }
@media print { .fd .fd-ticks { opacity: 1; } }
@media (forced-colors: active) { .fd { forced-color-adjust: none; } }
"""
