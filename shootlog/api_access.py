"""How a program says who it acts for: ``Authorization: Token ...``."""

from django.conf import settings
from drf_spectacular.extensions import OpenApiAuthenticationExtension
from rest_framework.authentication import BaseAuthentication, get_authorization_header
from rest_framework.exceptions import AuthenticationFailed

from shootlog.models import ApiToken


class TokenAccess(BaseAuthentication):
    def authenticate(self, request):
        words = get_authorization_header(request).split()
        if not words or words[0].lower() != b"token":
            return None
        if settings.SECURE_SSL_REDIRECT and not request.is_secure():
            raise AuthenticationFailed(
                "Nothing was done: this address is asked by https only. The token has travelled in "
                "the open; withdraw it and make another with: manage.py token NAME"
            )
        try:
            token = ApiToken.objects.find(words[1].decode("ascii")) if len(words) == 2 else None
        except UnicodeDecodeError:
            token = None
        if token is None:
            raise AuthenticationFailed(
                "This token opens nothing here. Make one with: manage.py token NAME"
            )
        return token.user, token

    def authenticate_header(self, request):
        return "Token"


class TokenAccessScheme(OpenApiAuthenticationExtension):
    target_class = TokenAccess
    name = "token"

    def get_security_definition(self, auto_schema):
        return {"type": "apiKey", "in": "header", "name": "Authorization"}
