"""STEP files as shapes of the reference kernel (cadquery-ocp). No checks but that they are read."""
from OCP.IFSelect import IFSelect_RetDone
from OCP.STEPControl import STEPControl_Reader
from OCP.TopExp import TopExp_Explorer


def read(path):
    """The one root of a STEP file."""
    reader = STEPControl_Reader()
    assert reader.ReadFile(str(path)) == IFSelect_RetDone
    assert reader.TransferRoots() == 1
    return reader.OneShape()


def every(shape, kind):
    """Its solids, faces or edges; one that several share comes once for each."""
    walk = TopExp_Explorer(shape, kind)
    while walk.More():
        yield walk.Current()
        walk.Next()
