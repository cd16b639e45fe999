"""Scripts that look at a page as an eye or a finger would."""

__all__ = ["BOX", "FAINT", "FOCUSED", "INSIDE", "SMALL"]

BOX = """
const box = arguments[0].getBoundingClientRect();
return [box.left, box.top, box.width, box.height]
"""

SMALL = """
const all = '[data-testid=stMain] button, [data-testid=stMain] summary, [data-testid=stMain] a, '
  + '[data-testid=stMain] input:not([type=file])';
return [...document.querySelectorAll(all)]
  .filter(e => e.offsetParent)
  .map(e => [e.innerText || e.getAttribute('aria-label') || e.type, e.getBoundingClientRect()])
  .filter(([, box]) => box.height < 44 || box.width < 44)
  .map(([words, box]) => `${words} ${box.width} x ${box.height}`)
"""

# relative luminance and contrast ratio: WCAG 2.1, definitions; 4.5 : 1 is its level AA (1.4.3)
FAINT = r"""
const linear = c => (c /= 255) <= 0.03928 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4;
const light = c => 0.2126 * linear(c[0]) + 0.7152 * linear(c[1]) + 0.0722 * linear(c[2]);
const colour = text => [...text.match(/[\d.]+/g).map(Number), 1].slice(0, 4);
const over = (top, low) => [0, 1, 2].map(i => top[i] * top[3] + low[i] * (1 - top[3]));
const chain = e => e ? [e, ...chain(e.parentElement)] : [];
const ground = e => chain(e).map(one => colour(getComputedStyle(one).backgroundColor))
  .reverse().reduce((low, top) => over(top, low), [255, 255, 255]);
const opacity = e => chain(e).reduce((all, one) => all * getComputedStyle(one).opacity, 1);
const found = [];
function look(e, text, words) {
  const low = ground(e), top = colour(text);
  top[3] *= opacity(e);
  const [a, b] = [light(over(top, low)), light(low)].sort((x, y) => y - x);
  if ((a + 0.05) / (b + 0.05) < 4.5 && !e.closest('[disabled]'))
    found.push(`${words.slice(0, 40)} ${((a + 0.05) / (b + 0.05)).toFixed(2)}`);
}
const main = document.querySelector('[data-testid=stMain]');
const walk = document.createTreeWalker(main, NodeFilter.SHOW_TEXT);
while (walk.nextNode()) {
  const e = walk.currentNode.parentElement, words = walk.currentNode.textContent.trim();
  if (words && e.offsetParent && !e.closest('svg, style'))
    look(e, getComputedStyle(e).color, words);
}
for (const e of main.querySelectorAll('input'))
  if (e.placeholder && !e.value && e.offsetParent)
    look(e, getComputedStyle(e, '::placeholder').color, e.placeholder);
return found
"""

FOCUSED = """
const e = document.activeElement, ours = e.closest('[class*=st-key-]');
return ours ? [...ours.classList].find(name => name.startsWith('st-key-')).slice(7) : e.innerText
"""

INSIDE = """
for (const e of arguments[0].querySelectorAll('*')) {
  const found = e.shadowRoot && e.shadowRoot.querySelector(arguments[1]);
  if (found) return found;
}
return null
"""
