// What the reader must not do because of a result: the short form below every text, and the long one of the page.
#include "report/parts.h"
#include "ringquell/report.h"

namespace ringquell {

const char* const caution =
    "This is a small-signal screening of lumped elements. It replaces neither measurement nor licensed "
    "practice. A DC link can kill and a\n"
    "failing device can burst: follow local codes, discharge and verify before you touch, and start with "
    "current limit and shields.\n";

namespace internal {

const char* const cautions_of_page =
    R"(<p><strong>A DC link kills.</strong> It stays charged after the supply is off. Discharge it,
verify that it is discharged, and only then touch the board. <strong>Devices that fail at these energies burst</strong> and throw
fragments and plasma: shield the board, wear eye protection, and raise the voltage in steps behind a current limit. Work as your
local codes and your licence to work demand; nothing on this page overrides them.</p>
<p>This is a small-signal screening of lumped elements. It finds whether an oscillation starts from noise at a point that is held
still; how large it becomes, it does not say. It knows only what the case holds: a forgotten inductance or coupling is a forgotten
mode. It judges neither overvoltage, losses, false turn-on, nor current sharing. A pass is permission to measure, no more: it
replaces neither measurement nor the judgement of a licensed engineer.</p>
)";

}  // namespace internal

}  // namespace ringquell
