"""Contrast after the Web Content Accessibility Guidelines 2.1, "relative luminance" and "contrast ratio"."""
import re

# Each colour of a text with the ground behind it, and some of the words.
TEXTS = """(() => {
  const found = new Map(), opaque = /^rgb\\(/;
  const ground = (one) => {
    for (let at = one; at; at = at.parentElement) {
      const colour = getComputedStyle(at).backgroundColor;
      if (opaque.test(colour)) return colour;
    }
    return 'rgb(255, 255, 255)';
  };
  for (const one of document.querySelectorAll('body *')) {
    const own = [...one.childNodes].filter(node => node.nodeType === Node.TEXT_NODE).map(node => node.data.trim()).join('');
    if (!own || !one.checkVisibility() || ['SCRIPT', 'STYLE', 'NOSCRIPT'].includes(one.tagName)) continue;
    const pair = getComputedStyle(one).color + '|' + ground(one);
    if (!found.has(pair)) found.set(pair, own.slice(0, 40));
  }
  return [...found].map(([pair, words]) => [...pair.split('|'), words]);
})()"""


def luminance(colour):
    channels = []
    for part in re.findall(r"[\d.]+", colour)[:3]:
        share = float(part) / 255
        channels.append(share / 12.92 if share <= 0.03928 else ((share + 0.055) / 1.055) ** 2.4)
    return 0.2126 * channels[0] + 0.7152 * channels[1] + 0.0722 * channels[2]


def contrast(one, other):
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def texts_on_grounds(page):
    return page.evaluate(TEXTS)
