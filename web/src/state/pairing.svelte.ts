/** Whether this device still has to be let in, and the code it came with after the `#` of the address. */
const FROM_ADDRESS = /^#pair(?:=(.*))?$/;

class Pairing {
  needed = $state(false);
  code = $state('');

  constructor() {
    this.read();
    addEventListener('hashchange', () => this.read());
  }

  read() {
    const found = FROM_ADDRESS.exec(location.hash);
    if (!found) return;
    this.code = decodeURIComponent(found[1] ?? '');
    this.needed = true;
    // The code is nobody else's business: out of the address and out of the history.
    history.replaceState(null, '', location.pathname);
  }
}

export const pairing = new Pairing();
