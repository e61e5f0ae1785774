import { expect, it } from 'vitest';
import { phoneAddress } from './phone-address';

// RFC 1122, 3.2.1.3: an address of 127/8 never leaves the computer.
it('is none that leads back to the phone itself', () => {
  const own = 'http://127.0.0.1:8439/#pair=ABC';
  expect(phoneAddress(['http://192.168.1.5:8439/#pair=ABC', own])).toBe('http://192.168.1.5:8439/');
  expect(phoneAddress([own])).toBeNull();
  expect(phoneAddress([])).toBeNull();
});
