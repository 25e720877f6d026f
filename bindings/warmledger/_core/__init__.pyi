from . import appraisal as appraisal
from . import catalog as catalog
from . import climate as climate
from . import economics as economics
from . import errors as errors
from . import hotwater as hotwater
from . import loans as loans
from . import offers as offers
from . import screening as screening
from . import streaming as streaming
from . import whatif as whatif

version: str
compiler: str
