// All tests of the peer and the validator, in one process: the definitions take a second to load.
//   tests/peer/node --test tests/peer/test/all.test.mjs
import '../cases/validator.mjs';
import '../cases/validator_extras.mjs';
import '../cases/rest.mjs';
import '../cases/transaction.mjs';
import '../cases/subscription.mjs';
import '../cases/personality.mjs';
import '../cases/programs.mjs';
